"""Look after a log: check it, copy it, bring it back, hand it out, and read its photos again."""

from __future__ import annotations

import os
import re
from collections import Counter
from collections.abc import Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from lastwet.config import logbook_place
from lastwet.errors import EvidenceBroken, LastwetError, NotWritten, UsageError
from lastwet.job.board import JobKind
from lastwet.logbook import export
from lastwet.logbook.copying import copy_log, restore_log
from lastwet.logbook.entry import Entry
from lastwet.logbook.find import Filter
from lastwet.logbook.kinds import Kind, Status
from lastwet.logbook.photostore import PhotoStore
from lastwet.logbook.store import LOG_FILE, Logbook
from lastwet.logbook.verify import Finding, Problem, verify
from lastwet.logbook.view import Standing, standings
from lastwet.service.files import make_folder, write_text
from lastwet.service.photos import Reader
from lastwet.service.replay import reread, task_of

PAGE = 200
"""Entries looked at together."""

_READINGS = (Kind.READING, JobKind.DIP)
_SUFFIXES = {b"\xff\xd8\xff": ".jpg", b"\x89PNG": ".png", b"RIFF": ".webp", b"%PDF": ".pdf"}


@dataclass(frozen=True, slots=True)
class Checked:
    """What a check of a log found."""

    folder: Path
    findings: list[Finding]
    head: Entry | None
    """The newest entry, where it could be read."""


@dataclass(frozen=True, slots=True)
class Expected:
    """An entry whose hash was written down outside the log, such as on a report."""

    seq: int
    hash: str
    """The hash, or its beginning."""

    def finding(self, logbook: Logbook) -> Finding | None:
        """Say what is wrong with it; None where the entry is there with that hash."""
        try:
            if logbook.entry(self.seq).hash.startswith(self.hash):
                return None
        except LastwetError:  # there is none of that number, or it is not what was written
            pass
        return Finding(Problem.CHAIN, f"entry {self.seq} is not the one whose hash was written down", self.seq)


_LEAST_HASH = 16
"""Digits of a hash that must be given: what stands at the foot of a report."""


def expected(text: str) -> Expected:
    """Read "25:0cf9f05694143e2a..." as an entry and the hash that it must have; raises `UsageError`."""
    seq, _, hash_ = text.strip().lower().partition(":")
    if not seq.isdecimal() or not re.fullmatch(f"[0-9a-f]{{{_LEAST_HASH},64}}", hash_):
        raise UsageError(f"'{text}' is not an entry and its hash", "write number:hash, at least 16 digits of it, as a report has them")
    return Expected(int(seq), hash_)


def check(stated: Path | None, *, photos: bool = True, expect: Expected | None = None) -> Checked:
    """Check the logbook; without `photos`, the entries alone; with `expect`, that entry too.

    Raises `UsageError` where there is no logbook.
    """
    place = logbook_place(stated)
    if not (place / LOG_FILE).exists():
        raise UsageError(f"there is no logbook in {place}", "name the logbook by --log")
    findings = verify(place, photos=photos)
    try:
        logbook = Logbook(place)
        missed = expect.finding(logbook) if expect else None
        return Checked(place, [*findings, *([missed] if missed else [])], logbook.head())
    except LastwetError:  # the findings say what is wrong
        return Checked(place, findings, None)


def backup(logbook: Logbook, target: Path) -> Checked:
    """Copy the log into `target` and check the copy."""
    copy_log(logbook.folder, target)
    return check(target)


def restore(source: Path, stated: Path | None) -> Checked:
    """Bring a backup back into an empty place and check it; raises `EvidenceBroken` for a backup that is damaged itself."""
    if broken := [finding for finding in verify(source) if finding.broken]:
        raise EvidenceBroken(f"the backup {source} is damaged: {broken[0].message}", "restore from another backup")
    place = logbook_place(stated)
    restore_log(source, place)
    return check(place)


# --- finding


def check_kind(logbook: Logbook, kind: str | None) -> None:
    """Raise `UsageError` for a kind of entry that is neither one of this program nor one that the log holds."""
    known = [*Kind, *JobKind]
    if kind is None or kind.casefold() in known or logbook.find(Filter(kind=kind), 1):
        return
    raise UsageError(f"there is no kind of entry '{kind}'", f"name one of {', '.join(known)}")


def found(logbook: Logbook, wanted: Filter, limit: int) -> list[Standing]:
    """Return the `limit` newest entries that `wanted` lets through as they stand now, newest first."""
    kept: list[Standing] = []
    for standing in _all_found(logbook, wanted, min(limit, PAGE)):
        kept.append(standing)
        if len(kept) == limit:
            break
    return kept


def everything(logbook: Logbook, wanted: Filter) -> list[Standing]:
    """Return every entry that `wanted` lets through, in the order of the log."""
    return list(_all_found(logbook, wanted, PAGE))[::-1]


def is_reading(standing: Standing) -> bool:
    """Tell whether an entry is a reading, from a photo or typed in."""
    return standing.entry.kind in _READINGS


def readings(logbook: Logbook, wanted: Filter) -> list[Standing]:
    """Return every reading that `wanted` lets through, typed ones too, in the order of the log."""
    return list(filter(is_reading, everything(logbook, wanted)))


def _all_found(logbook: Logbook, wanted: Filter, page: int) -> Iterator[Standing]:
    before: int | None = None
    while entries := logbook.find(wanted, page, before=before):
        about = logbook.concerning(entry.seq for entry in entries)
        yield from (standing for standing in standings(entries, about) if _stands(standing, wanted))
        before = entries[-1].seq


def _stands(standing: Standing, wanted: Filter) -> bool:
    """Tell whether it still is what was asked for, after corrections; a reading taken out of use has no outcome and no verdict."""
    if not wanted.asks_what_stands:
        return True
    if standing.void:
        return False
    asked = {"outcome": wanted.outcome, "verdict": wanted.verdict}
    return all(value is None or str(standing.finding.get(name)).casefold() == value.casefold() for name, value in asked.items())


# --- handing out


@dataclass(frozen=True, slots=True)
class Exported:
    """What an export wrote."""

    folder: Path
    entries: int
    readings: int
    photos: int
    missing: tuple[str, ...] = ()
    """Photos that the log names and does not have."""


def export_log(logbook: Logbook, folder: Path, wanted: Filter, *, redact: bool = False) -> Exported:
    """Write readings.csv, entries.jsonl and the photos into a new or empty folder; redacted, without names and photos.

    Raises `UsageError` where nothing was found, and `NotWritten` for a folder that holds something.
    """
    chosen = everything(logbook, wanted)
    if not chosen:
        raise UsageError("no entries were found for what was asked", "look at `lastwet log list` with the same options")
    make_folder(folder)
    if any(folder.iterdir()):
        raise NotWritten(f"{folder} is not empty", "name a new folder, so that nothing is overwritten")
    entries = {entry.seq: entry for standing in chosen for entry in (standing.entry, *standing.history)}
    logged = [entries[seq] for seq in sorted(entries)]
    table = list(filter(is_reading, chosen))
    write_text(folder / "readings.csv", export.table(table, redact=redact))
    write_text(folder / "entries.jsonl", "".join(export.lines(logged, redact=redact)))
    done, missing = (0, ()) if redact else _export_photos(logbook, logged, folder / "photos")
    return Exported(folder, len(logged), len(table), done, missing)


def _export_photos(logbook: Logbook, entries: list[Entry], folder: Path) -> tuple[int, tuple[str, ...]]:
    make_folder(folder)
    missing: list[str] = []
    names = dict.fromkeys(sha256 for entry in entries for sha256 in entry.photos)
    for sha256 in names:
        try:
            content = logbook.photos.path(sha256).read_bytes()
        except OSError:
            missing.append(sha256)
            continue
        _write(folder / (sha256 + _suffix(content)), content)
    return len(names) - len(missing), tuple(missing)


def _suffix(content: bytes) -> str:
    """Name the format for programs that go by the ending; the log itself goes by the content."""
    return next((suffix for start, suffix in _SUFFIXES.items() if content.startswith(start)), "")


def _write(path: Path, content: bytes) -> None:
    try:
        path.write_bytes(content)
    except OSError as error:
        raise NotWritten(f"{path} could not be written ({error.strerror})", "free some space, or name another folder") from error


# --- reading again


@dataclass(frozen=True, slots=True)
class Reread:
    """A logged photo, read again by today's reader."""

    standing: Standing
    now: Mapping[str, Any] | None
    """The reading of today; None where a photo of it is not there any more, or not what was written."""

    @property
    def differs(self) -> bool:
        """Whether today's reader says otherwise than the machine did then."""
        return self.now is not None and _said(self.now) != _said(self.standing.entry.body["reading"])


def _said(reading: Mapping[str, Any]) -> tuple[object, ...]:
    """Return what matters of a reading: not how sure or how fast it was."""
    return reading["outcome"], reading["side"], reading["last_wet"], [refusal["code"] for refusal in reading["refusals"]][:1]


def to_recheck(logbook: Logbook, wanted: Filter) -> tuple[list[Standing], Counter[str]]:
    """Return the machine readings among those that `wanted` lets through, and why and how many others are not to be read again."""
    chosen, left_out = list[Standing](), Counter[str]()
    for standing in readings(logbook, wanted):
        if why := _no_machine(standing.entry):
            left_out[why] += 1
        else:
            chosen.append(standing)
    return chosen, left_out


def recheck(logbook: Logbook, chosen: list[Standing], *, jobs: int | None = None, reader: Reader | None = None) -> Iterator[Reread]:
    """Read the photos of machine readings again, on all cores, and yield what came of each in their order.

    Nothing is written. `reader` must be a function that another process can import.
    """
    work = [(logbook.photos, standing.entry, reader) for standing in chosen]
    workers = max(1, min(jobs or os.cpu_count() or 1, len(work)))
    # spawned, since a forked child inherits OpenCV's threads in an unknown state
    with ProcessPoolExecutor(workers, get_context("spawn")) as pool:
        yield from map(Reread, chosen, pool.map(_reread, work))


def _no_machine(entry: Entry) -> str | None:
    """Say why the machine has nothing to read again of a reading; None where it has."""
    if entry.kind != Kind.READING:
        return "typed in"
    if entry.body["reading"]["method"] != "photo":
        return "by eye"
    # with a file that is no photo of the clean gauge, nothing was read
    return Status.UNUSABLE.value if entry.photo_sha256 is None or entry.body["reading"]["outcome"] == Status.UNUSABLE else None


def _reread(work: tuple[PhotoStore, Entry, Reader | None]) -> Mapping[str, Any] | None:
    photos, entry, reader = work
    try:
        return reread(photos, entry, task_of(entry.body), reader).as_json()
    except EvidenceBroken:
        return None
