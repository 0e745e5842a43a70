"""The gauges and coatings that have names: those of the package, and the shop's own in a folder beside the log."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from lastwet.config import logbook_place, shop_place
from lastwet.errors import NotWritten, UsageError
from lastwet.film.coating import Coating, coating_names, load_coating, parse_coating
from lastwet.gauge import Gauge, gauge_names, load_gauge
from lastwet.logbook.durable import write_once
from lastwet.service.files import make_folder

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,63}")
"""What a card's file may be called: nothing that could lead out of the folder."""


@dataclass(frozen=True, slots=True)
class Cards:
    """Cards by name; a name never becomes a path unless it is on the list, but for `find_gauge` and `find_coating`."""

    folder: Path
    """The shop's own, in `gauges` and `coatings`."""

    def gauges(self) -> list[str]:
        """Return the names of the gauges, the shop's own first."""
        return _listed(self.folder / "gauges", gauge_names())

    def coatings(self) -> list[str]:
        """Return the names of the coatings, the shop's own first."""
        return _listed(self.folder / "coatings", coating_names())

    def shipped_gauge(self) -> str:
        """Return the name of a gauge that is there whatever the shop's own look like."""
        own = {path.stem for path in (self.folder / "gauges").glob("*.toml")}
        return next(name for name in gauge_names() if name not in own)

    def gauge(self, name: str) -> Gauge:
        """Load a gauge by its name; raises `UsageError` for one that is not listed or is wrong."""
        return load_gauge(self._place("gauges", name, self.gauges()))

    def find_gauge(self, name_or_path: str) -> Gauge:
        """Load a gauge by its name, else by its path: for the command, whose user may open any file. Raises `UsageError`."""
        return load_gauge(self._found("gauges", name_or_path, self.gauges()))

    def notes(self) -> list[tuple[str, str]]:
        """Return the gauges by name and note; a file that somebody spoilt says so, and stops no other."""
        return _told(self.gauges(), lambda name: self.gauge(name).note, "its file is wrong")

    def coating(self, name: str) -> Coating:
        """Load a coating by its name; raises `UsageError` for one that is not listed or is wrong."""
        return load_coating(self._place("coatings", name, self.coatings()))

    def find_coating(self, name_or_path: str) -> Coating:
        """Load a coating by its name, else by its path, as `find_gauge` does. Raises `UsageError`."""
        return load_coating(self._found("coatings", name_or_path, self.coatings()))

    def titles(self) -> list[tuple[str, str]]:
        """Return the coatings by name and title; a card that somebody spoilt says so, and stops no other."""
        return _told(self.coatings(), lambda name: self.coating(name).name, "{} (its card is wrong)")

    def add_gauge(self, name: str, text: str) -> Gauge:
        """Check a gauge's TOML and keep it; raises `UsageError` for what is wrong, and keeps nothing then."""
        path = self._add("gauges", name, text, self.gauges())
        try:
            return load_gauge(str(path))
        except UsageError as error:
            path.unlink()
            raise UsageError(error.message.replace(str(path), path.name), error.cure) from error

    def add_coating(self, name: str, text: str) -> Coating:
        """Check a coating's TOML and keep it; raises `UsageError` for what is wrong, and keeps nothing then."""
        card = parse_coating(text, f"{name}.toml")
        self._add("coatings", name, text, self.coatings())
        return card

    def _place(self, kind: str, name: str, names: list[str]) -> str:
        if name not in names:
            raise UsageError(f"there is no '{name}' among the {kind}", "choose one of the list")
        own = self.folder / kind / f"{name}.toml"
        return str(own) if own.is_file() else name

    def _found(self, kind: str, name_or_path: str, names: list[str]) -> str:
        return self._place(kind, name_or_path, names) if name_or_path in names else name_or_path

    def _add(self, kind: str, name: str, text: str, names: list[str]) -> Path:
        if not _NAME.fullmatch(name):
            raise UsageError(f"'{name}' cannot be the name of a card", "use letters, digits and hyphens, as in my-gauge")
        if name in names:
            raise UsageError(f"there is a card '{name}' already", "give this one another name")
        path = self.folder / kind / f"{name}.toml"
        make_folder(path.parent)
        try:
            write_once(path, text.encode())
        except FileExistsError:
            raise UsageError(f"there is a card '{name}' already", "give this one another name") from None
        except OSError as error:
            raise NotWritten(f"the card could not be written ({error.strerror})", "check the folder and the free space") from error
        return path


def cards_beside(log: Path | None) -> Cards:
    """Return the cards that the page of this logbook offers; without one, of the usual logbook."""
    return Cards(shop_place(logbook_place(log)))


def _told(names: list[str], words_of: Callable[[str], str], spoilt: str) -> list[tuple[str, str]]:
    """Pair each name with what its card says, or with `spoilt`, in which {} is the name, where the card is wrong."""

    def words(name: str) -> str:
        try:
            return words_of(name)
        except UsageError:
            return spoilt.format(name)

    return [(name, words(name)) for name in names]


def _listed(folder: Path, shipped: tuple[str, ...]) -> list[str]:
    try:
        own = sorted(path.stem for path in folder.glob("*.toml") if _NAME.fullmatch(path.stem)) if folder.is_dir() else []
    except OSError:  # a folder that may not be looked into offers nothing, and hinders no other card
        own = []
    return [*own, *(name for name in shipped if name not in own)]
