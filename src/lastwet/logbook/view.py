"""What stands now: derived from entries that never change, by pure functions.

A reading stands as it was first logged until a correction supersedes it; the newest correction stands. A void takes the entry
it concerns out of use: the reading as a whole, or one correction, confirmation or note, which then counts as not made.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from lastwet.logbook.entry import Entry
from lastwet.logbook.kinds import Kind


@dataclass(frozen=True, slots=True)
class Standing:
    """An entry, and what became of it."""

    entry: Entry
    history: tuple[Entry, ...] = ()
    """Every entry about it, and about those, in the order of the log; voided ones too."""

    @property
    def void(self) -> Entry | None:
        """The entry that took it out of use."""
        return next((entry for entry in self.history if entry.kind == Kind.VOID and entry.body["concerns"] == self.entry.seq), None)

    @property
    def corrections(self) -> tuple[Entry, ...]:
        """Those that hold, oldest first."""
        return self.valid(Kind.CORRECTION)

    @property
    def statement(self) -> Entry:
        """The entry whose reading stands: the newest correction, else the entry itself."""
        return (self.entry, *self.corrections)[-1]

    @property
    def reading(self) -> Mapping[str, Any] | None:
        """The reading that stands, as docs/reading.schema.json has it; None for an entry that is no reading."""
        return self.statement.body.get("reading")

    @property
    def finding(self) -> Mapping[str, Any]:
        """What stands: the reading, or the body of an entry that says the same by the same names, such as a reading typed in."""
        return self.reading or self.statement.body

    @property
    def confirmations(self) -> tuple[Entry, ...]:
        """Those that agree with what stands: same side, same last wet tooth, same bracket."""
        return tuple(entry for entry in self.valid(Kind.CONFIRMATION) if _seen(entry.body) == _seen(self.finding))

    @property
    def by_eye(self) -> bool:
        """Whether a person read what stands."""
        return self.finding.get("method") == "eye"

    def valid(self, kind: Kind) -> tuple[Entry, ...]:
        """Return the entries of a kind that are about this one and were not voided."""
        voided = {entry.body["concerns"] for entry in self.history if entry.kind == Kind.VOID}
        return tuple(entry for entry in self.history if entry.kind == kind and entry.seq not in voided)


def _seen(said: Mapping[str, Any]) -> tuple[object, ...]:
    return said.get("side"), said.get("last_wet"), said.get("wet")


def standings(entries: Sequence[Entry], concerning: Iterable[Entry]) -> list[Standing]:
    """Return what became of each of `entries`, in their order; `concerning` holds the entries about them (`Logbook.concerning`)."""
    about: dict[int, list[Entry]] = defaultdict(list)
    for entry in concerning:
        about[entry.body["concerns"]].append(entry)
    return [Standing(entry, _history(entry.seq, about)) for entry in entries]


def _history(seq: int, about: Mapping[int, Sequence[Entry]]) -> tuple[Entry, ...]:
    found: dict[int, Entry] = {}
    ahead = [seq]
    while ahead:
        for entry in about.get(ahead.pop(), ()):
            if entry.seq not in found:  # an entry cannot be about a later one, but a forged log may say so
                found[entry.seq] = entry
                ahead.append(entry.seq)
    return tuple(found[number] for number in sorted(found))
