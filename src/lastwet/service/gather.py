"""What a report tells, gathered from the log: readings as they stand, the boards and coats they belong to, and what became of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from lastwet.errors import UsageError
from lastwet.film.coating import Coating
from lastwet.job.board import JobKind
from lastwet.job.state import BoardState, CoatState, same_photo
from lastwet.logbook.entry import Entry, canonical_json
from lastwet.logbook.find import Filter
from lastwet.logbook.kinds import Kind, thinner_of
from lastwet.logbook.store import Logbook
from lastwet.logbook.view import Standing
from lastwet.report.model import Amendment, Attachment, Estimate, Group, Paint, Reading, Refused
from lastwet.report.phrases import span
from lastwet.service import boards
from lastwet.service.coats import Fact, coat_facts
from lastwet.service.pictures import Picture, picture_of
from lastwet.service.replay import gauge_of
from lastwet.units import Bracket


@dataclass(frozen=True, slots=True)
class Shop:
    """The boards that the entries belong to, as they stand."""

    states: Mapping[str, BoardState]
    """By name."""
    entries: Mapping[str, Sequence[Entry]]
    """By the same names: entries of the board, its coats and its measured film, in the order of the log; readings stand elsewhere."""
    about: Mapping[str, Sequence[Entry]]
    """By the same names: what was said of those."""

    def coat(self, body: Mapping[str, Any]) -> tuple[BoardState, CoatState] | None:
        """Return board and coat of a reading; None where it has none, or where that is void."""
        state = self.states.get(str(body.get("board")))
        coats = [coat for coat in state.coats if coat.coat.entry == body.get("coat_entry")] if state else []
        return (state, coats[0]) if state and coats else None


def shop(logbook: Logbook, found: Iterable[Standing]) -> Shop:
    """Look up the boards that entries speak of."""
    names = dict.fromkeys(str(standing.entry.body["board"]) for standing in found if standing.entry.body.get("board") is not None)
    states, entries, about = {}, {}, {}
    for name in names:
        try:
            state = boards.state(logbook, name)
        except UsageError:  # a name that somebody gave to a reading, without a board of that name
            continue
        states[name] = state
        of_board = logbook.find(Filter(board=state.board.name), boards.MOST)[::-1]
        entries[name] = [entry for entry in of_board if entry.kind not in _READINGS]
        about[name] = logbook.concerning(entry.seq for entry in entries[name])
    return Shop(states, entries, about)


_READINGS = (Kind.READING, JobKind.DIP)
"""What is said of these stands with the readings."""


def jobs(chosen: Iterable[Standing], of: Shop) -> str | None:
    """Name the jobs that boards and readings were logged for."""
    stated = [*(state.board.job for state in of.states.values()), *(standing.entry.body.get("job") for standing in chosen)]
    return ", ".join(dict.fromkeys(str(job) for job in stated if job)) or None


# --- readings


def groups(chosen: Sequence[Standing], pictures: Sequence[Picture], of: Shop) -> Iterator[Group]:
    """Put readings of one coat on one board together, in the order of their first; coats without a reading come last."""
    together: dict[tuple[object, object, Paint], list[Reading]] = {}
    places: dict[tuple[object, object, Paint], tuple[BoardState, CoatState] | None] = {}
    first_of = _again(of)
    for standing, picture in zip(chosen, pictures, strict=True):
        body, place = standing.entry.body, of.coat(standing.entry.body)
        key = (body.get("board"), body.get("coat_entry"), _paint(standing, place))
        together.setdefault(key, []).append(replace(_reading(standing, picture), same_as=first_of.get(standing.entry.seq)))
        places[key] = place
    for key, found in together.items():
        place, paint = places[key], key[2]
        title = _title(*place) if place else "Readings" if key[0] is None else f"Board {key[0]}"
        yield Group(title, found, paint, _estimate(place[1]) if place else None, list(coat_facts(place[1].coat)) if place else ())
    told = {key[1] for key in together}
    for state in of.states.values():
        yield from (_unread(state, coat) for coat in state.coats if not coat.coat.dips and coat.coat.entry not in told)


def _again(of: Shop) -> Mapping[int, int]:
    """Return, by the entry of each dip that shows a photo of its coat again, the entry of the dip that showed it first."""
    coats = [coat.coat for state in of.states.values() for coat in state.coats]
    return {again.entry: first.entry for coat in coats for first, again in same_photo(coat.dips)}


def _unread(state: BoardState, coat: CoatState) -> Group:
    return Group(_title(state, coat), [], _paint_of_card(state.board.coating, coat.coat.paint.thinner), None, list(coat_facts(coat.coat)))


def _title(state: BoardState, coat: CoatState) -> str:
    return f"Board {state.board.name}, coat {coat.number}"


def _reading(standing: Standing, picture: Picture) -> Reading:
    entry, body, reading = standing.entry, standing.entry.body, _as_reading(standing)
    return Reading(
        entry=entry.seq,
        received=entry.recorded_at,
        camera_time=body.get("camera_time"),
        by=standing.statement.body.get("by"),
        outcome=reading["outcome"],
        by_eye=reading["method"] == "eye",
        confirmed_by=tuple(dict.fromkeys(str(confirmation.body["by"]) for confirmation in standing.confirmations)),
        corrected_in=standing.statement.seq if standing.corrections else None,
        void=standing.void is not None,
        gauge=reading["gauge"],
        side=reading["side"],
        side_source=reading["side_source"],
        deciding=_deciding(body, reading),
        wet=_bracket(reading["wet"]),
        dry=_bracket(reading["dry"]),
        verdict=reading["verdict"],
        refusals=tuple(Refused(refusal["code"], refusal["message"]) for refusal in reading["refusals"]),
        spot=_text(body.get("spot")),
        late_s=body.get("seconds"),
        photo_sha256=entry.photo_sha256,
        more_photos=tuple((_shows(entry, sha256), sha256) for sha256 in entry.more_photos),
        picture=picture.jpeg,
        picture_fault=picture.fault,
    )


def _shows(entry: Entry, sha256: str) -> str:
    """Say what a further photo of a reading shows."""
    reading = entry.body["reading"]
    of_the_dip = any(each["sha256"] == sha256 for each in reading.get("each", ()))
    return "Another photo of the dip" if of_the_dip else "Photo of the clean gauge"


def _as_reading(standing: Standing) -> Mapping[str, Any]:
    """Return what stands of a reading; one that was typed in, without a photo, is given the keys that it lacks."""
    gauge = standing.entry.body.get("gauge", {"name": "gauge not stated"})
    return standing.reading or {**standing.finding, "gauge": gauge["name"], "refusals": ()}


def _text(value: object) -> str | None:
    return None if value is None else str(value)


def _bracket(logged: Mapping[str, float | None] | None) -> Bracket | None:
    return None if logged is None else Bracket(logged["low_um"] or 0.0, logged["high_um"])


def _deciding(body: Mapping[str, Any], reading: Mapping[str, Any]) -> str:
    if reading["last_wet"] is None or "gauge" not in body:
        return ""
    teeth, last_wet, unit = body["gauge"]["sides"][reading["side"]], reading["last_wet"], reading["unit"]
    if not last_wet:
        return f"No tooth wet; the lowest is {teeth[0]:g} {unit}"
    following = f"next {teeth[last_wet]:g}" if last_wet < len(teeth) else "all teeth wet"
    return f"Last wet tooth {teeth[last_wet - 1]:g}, {following} {unit}"


# --- paint and estimate


def _paint(standing: Standing, place: tuple[BoardState, CoatState] | None) -> Paint:
    if place:
        return _paint_of_card(place[0].board.coating, place[1].coat.paint.thinner)
    film, limits = standing.entry.body.get("film") or {}, (standing.reading or {}).get("wet_range_um")
    return Paint(
        film.get("coating"),
        film.get("volume_solids"),
        film.get("volume_solids_tolerance") or 0.0,
        thinner_of(film),
        None if limits is None else (limits[0], limits[1]),
    )


def _paint_of_card(card: Coating, thinner: float | None) -> Paint:
    most = card.maximum_build
    return Paint(
        card.name,
        card.volume_solids,
        card.volume_solids_tolerance,
        thinner,
        card.wet_range_um,
        card.dry_range_um,
        None if most is None else (most.thickness_um, most.of),
        f"{card.source.sheet}, {card.source.date:%Y-%m-%d}",
    )


def _estimate(state: CoatState) -> Estimate | None:
    said, odds = state.estimate, state.chance
    if said is None:
        return None
    in_range = None if odds is None else (odds.mean, odds.spot)
    return Estimate(said.readings, said.mean_um, said.mean_interval_um, said.spread_um, said.confidence, in_range)


# --- what became of them


def amendments(chosen: Iterable[Standing]) -> list[Amendment]:
    """Return every entry about the readings, in the order of the log."""
    found = {entry.seq: entry for standing in chosen for entry in standing.history}
    return [amendment(found[seq]) for seq in sorted(found)]


def amendment(entry: Entry) -> Amendment:
    """Put an entry about another one into words."""
    body = entry.body
    return Amendment(entry.seq, body["concerns"], entry.kind, entry.recorded_at, body.get("by"), _said(entry), body.get("reason"))


def _said(entry: Entry) -> str:
    body = entry.body
    match entry.kind:
        case Kind.CORRECTION:
            return f"corrected to {_seen(body.get('reading') or body)}"
        case Kind.CONFIRMATION:
            return f"confirmed {_seen(body)}"
        case Kind.VOID:
            return "made void"
        case Kind.NOTE:
            return f"note: {body['text']}"
        case Kind.ATTACHMENT:
            return f"attached: {body.get('title') or body['file']}, SHA-256 {entry.photo_sha256}"
        case _:
            return entry.kind


def _seen(found: Mapping[str, Any]) -> str:
    return _span(found["wet"]) + (f", side {found['side']}" if found["side"] else "")


def _span(logged: Mapping[str, float | None]) -> str:
    bracket = _bracket(logged)
    return "no bracket" if bracket is None else span(bracket, "um")


# --- attachments


def attached(logbook: Logbook, chosen: Iterable[Standing], of: Shop) -> list[tuple[Entry, Picture]]:
    """Return the pictures that were attached to readings, boards and coats, with their entries; documents are only listed."""
    about = {entry.seq: entry for standing in chosen for entry in standing.history}
    about |= {entry.seq: entry for entries in of.about.values() for entry in entries}
    voided = {entry.body["concerns"] for entry in about.values() if entry.kind == Kind.VOID}
    wanted = [about[seq] for seq in sorted(about) if about[seq].kind == Kind.ATTACHMENT and seq not in voided]
    return [(entry, picture_of(logbook, entry)) for entry in wanted if str(entry.body.get("media_type")).startswith("image/")]


def attachment(entry: Entry, picture: Picture) -> Attachment:
    """Return what a report shows of a picture that was attached."""
    body = entry.body
    title, by = str(body.get("title") or body["file"]), _text(body.get("by"))
    return Attachment(entry.seq, body["concerns"], entry.recorded_at, by, title, entry.photo_sha256, picture.jpeg, picture.fault)


# --- what read them


def readers(chosen: Iterable[Standing]) -> Mapping[str, int]:
    """Count the readings of each version and setting of the reader, as they stand."""
    return Counter(_reader(standing) for standing in chosen)


def _reader(standing: Standing) -> str:
    if standing.reading is None or standing.by_eye:
        return "a person's eye"
    software = standing.entry.body.get("software") or {}
    return f"lastwet {software.get('version', 'unknown')}, reader settings {software.get('reader_settings') or 'unknown'}"


def gauges(chosen: Iterable[Standing]) -> Iterator[Fact]:
    """Yield name and sides of each gauge, as it was logged."""
    seen: set[str] = set()
    for standing in chosen:
        logged = standing.entry.body.get("gauge")
        if logged is None or (key := canonical_json(logged)) in seen:
            continue
        seen.add(key)
        gauge = gauge_of(logged)
        sides = "; ".join(f"side {side.id}: {' '.join(f'{tooth:g}' for tooth in side.teeth)}" for side in gauge.sides)
        yield gauge.name, f"{sides} {gauge.unit}"
