"""The papers say what the program does: every refusal, exit code, command and decision of layers is where people look for it."""

from __future__ import annotations

import json
import re
import tomllib
from typing import Any

import pytest
from typer.main import get_command

from lastwet.cli.app import app
from lastwet.errors import ExitCode
from lastwet.logbook.kinds import Status
from lastwet.reading.outcome import Code
from lastwet.reading.strip import FEWEST, MOST
from tests.conftest import ROOT, Run

FILE_CODES = {"not-an-image", "too-large", "damaged"}
"""Codes of `lastwet.errors.UnusablePhoto`."""
CODES = {code.value for code in Code} | FILE_CODES


def text(name: str) -> str:
    return (ROOT / name).read_text("utf-8")


def first_column(name: str, heading: str) -> list[str]:
    """First cells of the table under the row that begins with `heading`."""
    table = text(name).partition(f"| {heading} |")[2].partition("\n\n")[0]
    return [row.split("|")[1].strip(" `") for row in table.splitlines()[2:]]


def test_the_readme_lists_every_refusal_once() -> None:
    listed = first_column("README.md", "code")
    assert sorted(listed) == sorted(CODES)


def test_every_refusal_has_its_section() -> None:
    assert sorted(re.findall(r"^### (.+)$", text("docs/refusals.md"), re.MULTILINE)) == sorted(CODES)


WITHOUT_A_PICTURE = FILE_CODES | {Code.DIRTY, Code.PHOTOS_DISAGREE}
"""Codes of what is no photo, or of what several photos show together."""


def test_every_refusal_of_one_photo_has_its_picture() -> None:
    shown = re.findall(r"^### (.+)\n\n!\[\1\]\(pictures/refusal-\1\.jpg\)$", text("docs/refusals.md"), re.MULTILINE)
    made = {path.stem.removeprefix("refusal-") for path in (ROOT / "docs" / "pictures").glob("refusal-*.jpg")}
    assert set(shown) == made == CODES - WITHOUT_A_PICTURE


def test_every_refusal_is_in_the_schema() -> None:
    assert set(json.loads(text("docs/reading.schema.json"))["$defs"]["code"]["enum"]) == CODES


def test_the_outcomes_of_the_log_are_those_of_the_schema() -> None:
    schema = json.loads(text("docs/reading.schema.json"))
    assert schema["properties"]["outcome"]["enum"] == [status.value for status in Status]


def test_the_guide_to_gauges_says_how_many_teeth_are_read() -> None:
    assert f"Photos are read of sides with {FEWEST} to {MOST} teeth" in text("docs/gauges.md")


def test_the_readme_lists_every_exit_code() -> None:
    assert first_column("README.md", "exit code") == [str(code.value) for code in ExitCode]


def test_the_guide_draws_the_layers_that_are_checked() -> None:
    contract = tomllib.loads(text("pyproject.toml"))["tool"]["importlinter"]["contracts"][0]
    assert " > ".join(contract["layers"]).replace("lastwet.", "") in text("DEVELOPERS.md")


def test_the_guide_lists_every_target() -> None:
    targets = re.findall(r"^([a-z]+):.*##", text("Makefile"), re.MULTILINE)
    listed = {row.removeprefix("make ").partition(" ")[0] for row in first_column("DEVELOPERS.md", "command")}
    assert set(targets) <= listed


COMMANDED = ["README.md", "DEVELOPERS.md", *(f"docs/{name}.md" for name in ("gauges", "film", "logbook", "refusals", "walkthrough"))]
"""Papers that name commands."""


@pytest.mark.parametrize("paper", COMMANDED)
def test_every_command_in_the_papers_exists(run: Run, paper: str) -> None:
    named = set(re.findall(r"lastwet ((?:gauge|coating|film|board|log) [a-z-]+|read|confirm|report|doctor|demo)\b(?!\.)", text(paper)))
    for command in named:
        assert run(*command.split(), "--help").returncode == 0, command


@pytest.mark.parametrize("paper", ["README.md", "docs/film.md", "docs/gauges.md", "docs/logbook.md", "docs/refusals.md"])
def test_every_option_in_the_papers_exists(paper: str) -> None:
    own = re.sub(r"```sh.*?```", "", text(paper), flags=re.DOTALL)  # those blocks are for other programs
    options = set(re.findall(r"(?<![\w-])--[a-z][a-z0-9-]+", own)) - {"--help"}
    assert options - options_of(get_command(app)) == set()


def options_of(command: Any) -> set[str]:
    """Options of a command and of all commands below it."""
    own = {name for parameter in command.params for name in parameter.opts}
    return own.union(*(options_of(below) for below in getattr(command, "commands", {}).values()))
