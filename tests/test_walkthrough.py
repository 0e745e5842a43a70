"""docs/walkthrough.md, run from its own text: every command in it prints what stands below it."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

from tests.conftest import ROOT

PAPER = ROOT / "docs" / "walkthrough.md"
PHOTO = ROOT / "src" / "lastwet" / "data" / "photos" / "strip-on-board.jpg"
ANY = "..."
"""Stands for what differs from run to run, such as the time."""


def commands() -> Iterator[tuple[str, str]]:
    """Yield each command in the paper and what is printed below it, up to the next command or the end of its block."""
    for block in re.findall(r"^```console\n(.*?)^```$", PAPER.read_text("utf-8"), re.MULTILINE | re.DOTALL):
        for said in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
            command, _, printed = re.sub(r"\\\n\s*", " ", said).partition("\n")
            yield command, printed.rstrip("\n")


def run(command: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """Run `lastwet ...` in `folder`, with a logbook of its own; standard output and errors come in their order."""
    env = {**os.environ, "LASTWET_LOG": str(folder / "log"), "COLUMNS": "160", "TZ": "UTC"}
    name, *arguments = shlex.split(command)
    assert name == "lastwet"
    return subprocess.run(
        [sys.executable, "-m", "lastwet", *arguments],
        cwd=folder,
        env=env,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        timeout=60,
        check=False,
    )


def pattern(printed: str) -> str:
    """Turn what is printed in the paper into a regular expression; trailing blanks do not matter."""
    return "".join(r".*?" if part == ANY else re.escape(part) for part in re.split(r"(\.\.\.)", printed))


def test_the_walkthrough_prints_what_it_says(tmp_path: Path) -> None:
    shutil.copy(PHOTO, tmp_path / "dip.jpg")
    for command, printed in commands():
        done = run(command, tmp_path)
        said = "\n".join(line.rstrip() for line in done.stdout.rstrip("\n").splitlines())
        assert re.fullmatch(pattern(printed), said, re.DOTALL), f"$ {command}\n{said}"
        assert done.returncode == 0, command
    for chart in ("readings.svg", "build.svg"):
        assert (tmp_path / "charts" / chart).read_text("utf-8").startswith("<svg")


def test_the_walkthrough_shows_the_whole_job() -> None:
    shown = {" ".join(command.split()[1:3]) for command, _ in commands()}
    assert {
        "coating new",
        "film plan",
        "film quantities",
        "film dew-point",
        "board new",
        "board coat",
        "board add",
        "board sand",
        "board show",
        "board measure",
        "confirm 17",
        "report --job",
        "log list",
    } <= shown
    verdicts = [word for _, printed in commands() for word in re.findall(r"wet, (above|below|inside|straddles)", printed)]
    assert {"above", "below", "inside"} <= set(verdicts)
