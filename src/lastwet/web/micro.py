"""The micrometre on a page: plain text has it as um, which is shown as it should be; names stay as they were given."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from typing import Any


def micro(text: str, of: Any = None) -> str:
    """Show the unit of the lengths in `text`, and leave what was typed in: the texts of the plain data or records `of`."""
    names = {name for name in _texts(of) if re.search(r"\bum\b", name)} - {"um"}
    kept = [rf"(?<!\w){re.escape(name)}(?!\w)" for name in sorted(names, key=len, reverse=True)]
    return re.sub("|".join([*kept, r"(?<=\d )um\b"]), lambda found: "\u00b5m" if found[0] == "um" else found[0], text)


def _texts(of: Any) -> Iterator[str]:
    if isinstance(of, str):
        yield of
    elif isinstance(of, list | tuple | Mapping):
        for inner in of.items() if isinstance(of, Mapping) else of:
            yield from _texts(inner)
    elif is_dataclass(of):
        yield from _texts([getattr(of, field.name) for field in fields(of)])
