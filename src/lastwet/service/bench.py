"""Photos that come in from several hands at once: each is logged once, and each dip gets a spot of its own."""

from __future__ import annotations

import shutil
from collections import defaultdict
from dataclasses import dataclass, field, replace
from threading import Lock

from lastwet.errors import LastwetError, NotWritten, UnusablePhoto, UsageError
from lastwet.film.dialin import Settings
from lastwet.gauge import Gauge
from lastwet.job.board import Paint, dip_photos
from lastwet.logbook.entry import Entry
from lastwet.logbook.find import Filter
from lastwet.logbook.kinds import Kind, Status
from lastwet.logbook.store import Logbook
from lastwet.logbook.view import standings
from lastwet.result import Clean, Result
from lastwet.service import amend, boards
from lastwet.service.photos import FAILURE_CURE, load_clean, sha256_of
from lastwet.service.replay import reread, task_of

LEAST_FREE_BYTES = 300_000_000
"""Free space below which no photo is taken in: SQLite and the photo itself need room, and a full disk helps nobody."""
MOST_TOGETHER = 4
"""Photos of one dip that are read together here: each takes 30 MB until all are read, and several hands send some at once."""
MOST_OF_A_BOARD = 100_000
"""Entries looked at for one board."""


@dataclass(frozen=True, slots=True)
class Dip:
    """A photo on its way into the log."""

    board: str
    coat: int
    """Number of the coat it was taken for, 1 for the first."""
    photo: bytes
    name: str
    """What the sender calls it."""
    gauge: Gauge
    side_id: str | None
    place: boards.Place
    clean: tuple[str, bytes] | None = None
    """Name and bytes of a photo of the wiped gauge, taken before the dip."""


@dataclass(frozen=True, slots=True)
class Bench:
    """One logbook, written to from several threads; each board takes one entry at a time."""

    logbook: Logbook
    _locks: dict[str, Lock] = field(default_factory=lambda: defaultdict(Lock))

    def dip(self, dip: Dip, by: str) -> Entry:
        """Read a photo and log it; return the entry that there is where this board has the photo already.

        Raises `UsageError` as `_known` does, or where the file of the clean gauge is no photo of it, `NotWritten` where the disk is nearly
        full.
        """
        self.refuse_full_disk()
        if known := self._known(dip):
            return known
        clean = None if dip.clean is None else _load_clean(*dip.clean, dip.photo)
        # not under the lock: other photos of the board are read at the same time
        result = boards.read_dip(
            self.logbook, dip.board, [dip.name], dip.gauge, dip.side_id, dip.place, fetch=lambda _: dip.photo, clean=clean
        )
        with self._locks[dip.board.casefold()]:
            return self._known(dip) or boards.log_dip(self.logbook, dip.board, result, dip.place, by)

    def _known(self, dip: Dip) -> Entry | None:
        """Return the entry of a photo that the board has already.

        Raises `UsageError` where that was not held against this photo of the clean gauge, or where the dip's coat is not the last one.
        """
        if known := self._entry_of(dip.board, sha256_of(dip.photo)):
            if dip.clean and sha256_of(dip.clean[1]) not in known.photos:
                told = f"entry {known.seq} has this photo already, not held against this photo of the clean gauge"
                raise UsageError(told, f"open entry {known.seq}, take it again, and send both photos")
            return known
        coats = len(boards.find_board(self.logbook, dip.board).coats)
        if coats != dip.coat:
            told = f"the photo was taken for coat {dip.coat}, and {dip.board} has {coats} by now"
            raise UsageError(told, "send it again for the coat that was dipped")
        return None

    def begin_coat(self, board: str, number: int, settings: Settings, paint: Paint, by: str) -> None:
        """Log coat `number`, as sprayed now; nothing is done where the board has it already, as after a second tap."""
        with self._locks[board.casefold()]:
            coats = len(boards.find_board(self.logbook, board).coats)
            if coats == number:
                return
            if coats != number - 1:
                raise UsageError(f"coat {number} cannot follow: {board} has {coats} by now", "go back to the bench")
            boards.new_coat(self.logbook, board, settings, paint, by)

    def confirm(self, seq: int, last_wet: int, by: str, side_id: str | None, reason: str | None) -> None:
        """Log that somebody agrees with a reading or reads otherwise; the same said again by the same person is not logged again."""
        with self._locks[self.logbook.entry(seq).body.get("board", "").casefold()]:
            stands = amend.standing(self.logbook, seq)
            said = {(entry.body["by"], entry.body["side"], entry.body["last_wet"]) for entry in stands.confirmations}
            if (by.strip(), side_id, last_wet) not in said:
                amend.confirm(self.logbook, seq, last_wet, by, side_id=side_id, reason=reason)

    def read_again(self, seq: int, side_id: str, by: str) -> Entry:
        """Read the photos of a refused entry again with the side that was pressed, and make the refusal void.

        Raises `UsageError` for an entry that is no refused photo of a board, `EvidenceBroken` where a photo is not what was written.
        """
        refused = self._refused(seq)
        result = reread(self.logbook.photos, refused, replace(task_of(refused.body), side_id=side_id))
        with self._locks[refused.body["board"].casefold()]:
            return self._log_instead(refused, result, by, f"side {side_id} was stated, and it was read again")

    def add_photo(self, seq: int, name: str, photo: bytes, by: str) -> Entry:
        """Read the photos of a refused entry together with one more of the same dip, and make the refusal void.

        Returns the entry that there is where that was done already. Raises as `read_again` does, and `UnusablePhoto` for a file that is
        no photo, `LastwetError` where the program fails: then the refusal stands, and nothing is logged.
        """
        self.refuse_full_disk()
        sha256, why = sha256_of(photo), "another photo of the dip was added, and they were read together"
        lock = self._locks[str(self.logbook.entry(seq).body.get("board", "")).casefold()]
        with lock:
            if done := self._joined(seq, sha256):
                return self._instead(seq, done, by, why)  # no more was written of it the first time, perhaps
        refused = self._refused(seq)
        if len(dip_photos(refused)) >= MOST_TOGETHER:
            raise UsageError(f"there are {MOST_TOGETHER} photos of this dip already", "read it by eye, or dip again at a fresh spot")
        result = reread(self.logbook.photos, refused, task_of(refused.body), more=[(name, photo)])
        _refuse_useless(result)
        with lock:
            return self._joined(seq, sha256) or self._log_instead(refused, result, by, why)

    def _joined(self, seq: int, sha256: str | None) -> Entry | None:
        """Return the entry that has all photos of the dip of entry `seq`, and that one; raises `UsageError` where another dip has it."""
        entry = self.logbook.entry(seq)
        known = self._entry_of(str(entry.body.get("board", "")), sha256)
        if known is None:
            return None
        if known.seq == seq or not set(dip_photos(entry)) <= set(dip_photos(known)):
            raise UsageError(f"entry {known.seq} has this photo already", "take another photo of this dip")
        return known

    def _refused(self, seq: int) -> Entry:
        """Return an entry that is a refused photo of a board; raises `UsageError` for any other, as once it was read by eye."""
        stands = amend.standing(self.logbook, seq)
        refused = stands.reading is not None and stands.reading["outcome"] == Status.REFUSED and not stands.void
        if not refused or "board" not in stands.entry.body or stands.entry.photo_sha256 is None:
            raise UsageError(f"entry {seq} is not a refused photo of a board, or not any more", "look at the board, or send the photo anew")
        return stands.entry

    def _log_instead(self, refused: Entry, result: Result, by: str, why: str) -> Entry:
        """Log what came of reading a refused entry again, and make that one void; under the board's lock."""
        body = refused.body
        self._refused(refused.seq)  # somebody may have read it by eye meanwhile
        coats = boards.find_board(self.logbook, body["board"]).coats
        if not coats or coats[-1].entry != body["coat_entry"]:
            raise UsageError("another coat was begun since this photo", "read it by eye")
        place = boards.Place(body["spot"], body["seconds"], body["touched_up"])
        return self._instead(refused.seq, boards.log_dip(self.logbook, body["board"], result, place, by), by, why)

    def _instead(self, seq: int, again: Entry, by: str, why: str) -> Entry:
        """Make a refusal void in favour of the entry that was read again, and return that; one that is void or was read by eye is left."""
        stands = amend.standing(self.logbook, seq)
        if not stands.void and stands.reading is not None and stands.reading["outcome"] == Status.REFUSED:
            amend.void(self.logbook, seq, by, f"{why} as entry {again.seq}")
        return again

    def refuse_full_disk(self) -> None:
        """Raise `NotWritten` where the disk of the log is nearly full."""
        if shutil.disk_usage(self.logbook.folder).free < LEAST_FREE_BYTES:
            raise NotWritten("the disk of the log is nearly full, so no photo is taken in", "free some space, then send it again")

    def _entry_of(self, board: str, sha256: str | None) -> Entry | None:
        """Return the newest entry of the board with these bytes that is not void."""
        entries = self.logbook.find(Filter(board=board.strip(), kind=Kind.READING), MOST_OF_A_BOARD)
        same = [entry for entry in entries if sha256 in (entry.body["reading"]["sha256"], *dip_photos(entry))]
        standing = standings(same, self.logbook.concerning(entry.seq for entry in same))
        return next((each.entry for each in standing if not each.void), None)


def _load_clean(name: str, content: bytes, photo: bytes) -> Clean:
    """Load the photo of the clean gauge; raises `UsageError` where it is none, or that of the dip."""
    if content == photo:
        raise UsageError("the photo of the clean gauge is that of the dip", "choose the one that was taken before the dip, or none")
    return load_clean(name, lambda _: content)


def _refuse_useless(result: Result) -> None:
    """Raise where the last of several photos is none, or the program failed: neither may take the place of a refusal."""
    last = result.parts[-1].outcome
    if isinstance(last, UnusablePhoto):
        raise last
    if result.failure:
        raise LastwetError(f"the program failed on these photos ({result.failure})", FAILURE_CURE)
