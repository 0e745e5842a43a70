"""The micrometre on a page: plain text has it as um, which is shown as it should be; names stay as they were given."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass

_UNIT = re.compile(r"(?<=\d )um\b")
_MAY_LOOK_SO = re.compile(r"\bum\b")


def micro(text: str, of: object = None) -> str:
    """Show the unit of the lengths in `text`, and leave what was typed in: the texts of the plain data or records `of`."""
    kept = sorted({name for name in _texts(of) if name != "um" and _MAY_LOOK_SO.search(name)}, key=len, reverse=True)
    names = [rf"(?<!\w){re.escape(name)}(?!\w)" for name in kept]
    return re.sub("|".join([*names, _UNIT.pattern]), lambda found: "\u00b5m" if found[0] == "um" else found[0], text)


def _texts(of: object) -> Iterator[str]:
    if isinstance(of, str):
        yield of
    for inner in _inside(of):
        yield from _texts(inner)


def _inside(of: object) -> list[object]:
    if isinstance(of, Mapping):
        return [*of.keys(), *of.values()]
    if isinstance(of, list | tuple):
        return list(of)
    return [getattr(of, field.name) for field in fields(of)] if is_dataclass(of) else []
