"""From a logged entry back to what it was made of: the task, the reading, its photos, which can be read again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, cast

from lastwet.gauge import Gauge, Side
from lastwet.logbook.entry import Entry
from lastwet.logbook.kinds import Status, thinner_of
from lastwet.logbook.photostore import PhotoStore
from lastwet.reading.outcome import Code, EndTab, Guess, Outcome, Point, Reading, Reason, Refusal, Seen, SideSource, Tooth
from lastwet.result import Film, Result, Task
from lastwet.service.burst import read_burst
from lastwet.service.photos import Reader, clean_of, read_photo


def task_of(body: Mapping[str, Any]) -> Task:
    """Return the task of a logged reading: the gauge as it was then, the side that was stated, the paint."""
    reading = body["reading"]
    named = reading["side_source"] in ("stated", "numerals")  # what the numerals agree with was stated, or is told by the number of teeth
    return Task(gauge_of(body["gauge"]), reading["side"] if named else None, film_of(body))


def reread(photos: PhotoStore, entry: Entry, task: Task, reader: Reader | None = None, more: Sequence[tuple[str, bytes]] = ()) -> Result:
    """Read the photos of a logged reading again, those of one dip together, and against the clean gauge where there was one.

    `more` are further photos of the same dip, each with its name. Raises `EvidenceBroken` where a photo is not what was written.
    """
    reading = entry.body["reading"]
    # files that were no photos were not kept, nor those on which the program failed before there was a photo
    kept = [each for each in reading.get("each", [reading]) if each["sha256"] in entry.photos]
    dip = [*((each["photo"], photos.read(each["sha256"])) for each in kept), *more]
    names, contents = [name for name, _ in dip], iter([content for _, content in dip])  # by their order, as two may have one name
    clean = None
    if "clean" in reading:
        wiped = photos.read(reading["clean"]["sha256"])
        clean = clean_of(reading["clean"]["photo"], lambda _: wiped)
    if "each" in reading or more:
        return read_burst(names, task, lambda _: next(contents), clean=clean)
    return read_photo(names[0], task, lambda _: next(contents), reader, clean)


def gauge_of(logged: Mapping[str, Any]) -> Gauge:
    """Return a gauge as the log keeps it: without its measured layout, and with its sides from the lowest to the highest."""
    unit = logged["unit"]
    sides = [Side(name, unit, tuple(teeth)) for name, teeth in logged["sides"].items()]
    return Gauge(logged["name"], unit, tuple(sorted(sides, key=lambda side: side.teeth)))


def film_of(body: Mapping[str, Any]) -> Film:
    """Return the paint of a logged reading, of one that was typed in too."""
    film, wet_range_um = body["film"], body.get("reading", body)["wet_range_um"]
    return Film(
        coating=film["coating"],
        solids=film["volume_solids"],
        thinner=thinner_of(film),
        wet_range_um=None if wet_range_um is None else (wet_range_um[0], wet_range_um[1]),
        solids_tolerance=film.get("volume_solids_tolerance") or 0.0,  # not in entries of an early version
        thinner_max=film.get("thinner_max"),
    )


def outcome_of(reading: Mapping[str, Any], gauge: Gauge) -> Outcome | None:
    """Return what was said of a photo, as it was logged; None for a file that was not usable."""
    if reading["outcome"] == Status.UNUSABLE:
        return None
    side = None if reading["side"] is None else gauge.side(reading["side"])
    seen = Seen(tuple(map(_tooth, reading["teeth"])), tuple(map(_end_tab, reading["end_tabs"])))
    source = cast("SideSource | None", reading["side_source"])
    if reading["outcome"] == Status.READ and side is not None:
        return Reading(side, source or "stated", reading["last_wet"], reading["confidence"] or 0.0, seen)
    reasons = tuple(Reason(Code(reason["code"]), reason["message"], reason["cure"]) for reason in reading["refusals"])
    guess = reading["best_guess"] and Guess(reading["best_guess"]["last_wet"], reading["best_guess"]["confidence"])
    return Refusal(reasons, side, source, guess, seen)


def _tooth(logged: Mapping[str, Any]) -> Tooth:
    return Tooth(logged["value"], logged["wet_probability"], _point(logged))


def _end_tab(logged: Mapping[str, Any]) -> EndTab:
    return EndTab(logged["wet_probability"], _point(logged))


def _point(logged: Mapping[str, Any]) -> Point:
    x, y = logged["tip_px"]
    return x, y
