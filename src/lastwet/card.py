"""Cards: the small TOML files that people write, such as gauges, read so that each fault names file, key and cure."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, TypeVar

from lastwet.errors import UsageError

_T = TypeVar("_T")


def card_names(kind: str) -> tuple[str, ...]:
    """Return the names of the cards of `kind` ("gauge", "coating") that the package ships, sorted."""
    return tuple(sorted(card.name.removesuffix(".toml") for card in _shipped(kind).iterdir() if card.name.endswith(".toml")))


def read_card(kind: str, name_or_path: str) -> Table:
    """Read a card by the name of a shipped one or by its path; raises `UsageError` naming file and cure."""
    names = card_names(kind)
    card = _shipped(kind) / f"{name_or_path}.toml" if name_or_path in names else Path(name_or_path)
    try:
        # some editors begin a file with a byte order mark, which TOML does not know
        return Table(tomllib.loads(card.read_text("utf-8").removeprefix("\ufeff")), name_or_path, kind)
    except FileNotFoundError:
        raise UsageError(f"there is no {kind} '{name_or_path}'", f"give the path of a TOML file, or one of {', '.join(names)}") from None
    except OSError as error:
        raise UsageError(f"{kind} '{name_or_path}' cannot be read ({error.strerror})", "give the path of a TOML file") from error
    except ValueError as error:  # tomllib's own error and UnicodeDecodeError
        raise UsageError(f"{name_or_path} is not a TOML file ({error})", "correct that line") from error


def _shipped(kind: str) -> Traversable:
    return files("lastwet") / "data" / f"{kind}s"


@dataclass(frozen=True, slots=True)
class Table:
    """A table of a card that knows where it stands."""

    values: Mapping[str, Any]
    file: str
    kind: str
    """What the card describes, for messages."""
    prefix: str = ""
    """Where this table stands in the card, for messages."""

    def __contains__(self, key: str) -> bool:
        return key in self.values

    def fault(self, key: str, what: str, cure: str) -> UsageError:
        """Return the error that says `what` is wrong with `key`."""
        return UsageError(f"{self.file}: {self.prefix}{key} {what}", cure)

    def only(self, *keys: str) -> None:
        """Raise when the table has a key that is none of `keys`."""
        for key in sorted(self.values.keys() - set(keys)):
            raise self.fault(key, f"is not a key of a {self.kind}", f"use only {', '.join(keys)}")

    def value(self, key: str, cure: str) -> Any:
        """Return the value of `key`; `cure` says what to write where it is missing."""
        if key not in self.values:
            raise self.fault(key, "is missing", cure)
        return self.values[key]

    def text(self, key: str, cure: str = "write it in quotes") -> str:
        """Return a text that is not blank."""
        value = self.value(key, cure)
        if not isinstance(value, str) or not value.strip():
            raise self.fault(key, "is not a text", cure)
        return value

    def one_of(self, key: str, choices: Sequence[str]) -> str:
        """Return a text that is one of `choices`."""
        cure = "write " + " or ".join(f'{key} = "{choice}"' for choice in choices)
        value = self.text(key, cure)
        if value not in choices:
            raise self.fault(key, f"is '{value}'", cure)
        return value

    def parsed(self, key: str, parse: Callable[[str], _T], cure: str) -> _T:
        """Return a text as `parse` understands it; what `parse` raises gets file and key."""
        text = self.text(key, cure)
        try:
            return parse(text)
        except UsageError as error:
            raise self.fault(key, f"is wrong: {error.message}", error.cure) from error

    def number(self, key: str, cure: str) -> float:
        """Return a positive number."""
        return self.as_number(key, self.value(key, cure), cure)

    def as_number(self, key: str, value: object, cure: str) -> float:
        """Return `value`, which stands at `key`, as a positive number."""
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.fault(key, f"holds {value!r}, which is not a number", cure)
        if not 0 < value < float("inf"):
            raise self.fault(key, f"holds {value:g}, which is not above zero", cure)
        return float(value)

    def table(self, key: str, cure: str) -> Table:
        """Return the table at `key`."""
        value = self.value(key, cure)
        if not isinstance(value, dict):
            raise self.fault(key, "is not a table", cure)
        return Table(value, self.file, self.kind, f"{self.prefix}{key}.")

    def tables(self, key: str, cure: str) -> Iterator[Table]:
        """Yield the tables of the list at `key`, at least one."""
        value = self.value(key, cure)
        if not isinstance(value, list) or not value or not all(isinstance(item, dict) for item in value):
            raise self.fault(key, "is not a list of tables", cure)
        for position, item in enumerate(value, 1):
            yield Table(item, self.file, self.kind, f"{self.prefix}{key} {position}, ")
