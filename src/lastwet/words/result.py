"""Results in words: a heading and facts."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from lastwet.errors import UnusablePhoto
from lastwet.film.dry import Judgement, Verdict
from lastwet.reading.caption import bracket_text
from lastwet.reading.outcome import Reading, Refusal
from lastwet.result import Film, Part, Result, in_short
from lastwet.service import Kept
from lastwet.units import Bracket, Unit, show_bracket, show_length

Fact = tuple[str, str]
"""A term and what is said of it."""

_SIDE_WORDS = {
    "stated": "as you stated, not seen in the photo",
    "count": "told by the number of its teeth",
    "geometry": "told by its shape",
    "numerals": "as its numerals in the photo say",
}


def heading(result: Result) -> str:
    """Name the photo, or the photos, and what it came to."""
    name = in_short(result.photos)
    match result.outcome:
        case Reading() as reading:
            return f"{name}: {_both(bracket_text(reading, unit) for unit in _units(result))} wet"
        case Refusal():
            return f"{name}: not read"
        case UnusablePhoto():
            return f"{name}: not usable as a photo"


def facts(result: Result, kept: Kept) -> Iterator[Fact]:
    """Yield what is to be said of a result, and what was kept of it."""
    match result.outcome:
        case Reading() as reading:
            yield from _reading_facts(reading, by_eye=result.method == "eye")
            yield from _film_facts(result)
        case Refusal(reasons=reasons):
            for reason in reasons:
                yield from _reason_facts(reason.code, reason.message, reason.cure)
        case UnusablePhoto() as error:
            yield from _reason_facts(error.code, error.message, error.cure)
    yield from (("photo", _part_words(part)) for part in result.parts)
    if result.clean and isinstance(result.outcome, Reading):
        yield "clean gauge", f"{result.clean.name}: nothing on it looked wet before the dip"
    if kept.picture:
        yield "picture", str(kept.picture)
    if kept.entry is not None:
        yield "log entry", str(kept.entry)


def _part_words(part: Part) -> str:
    """Say what one of several photos of a dip says by itself, and whether it adds to the rest."""
    used = "used" if part.used else "not used"
    match part.outcome:
        case Reading() as reading:
            return f"{part.name}: {used}; by itself {reading.last_wet} of {len(reading.side.teeth)} wet"
        case Refusal(reasons=(reason, *_)):
            return f"{part.name}: {used}; by itself {reason.code}: {reason.message}"
        case UnusablePhoto() as error:
            return f"{part.name}: {used}; {error.code}: {error.message}"
        case Refusal():
            return f"{part.name}: {used}"


def _reading_facts(reading: Reading, *, by_eye: bool) -> Iterator[Fact]:
    teeth, last_wet = reading.side.teeth, reading.last_wet
    how = "read by eye" if by_eye else f"confidence {reading.confidence:.3f} (on rendered photos)"
    yield "teeth", f"{last_wet} of {len(teeth)} wet, {how}"
    yield "side", f"{reading.side.id}, {_SIDE_WORDS[reading.side_source]}"
    decides = f"{teeth[last_wet - 1]:g} is the last wet tooth" if last_wet else f"{teeth[0]:g}, the lowest tooth, is dry"
    yield "check", f"{decides}: compare with the number stamped on the gauge"
    if last_wet == len(teeth):
        yield "next", "every tooth is wet: press the next side up"


def _film_facts(result: Result) -> Iterator[Fact]:
    units, film = _units(result), result.task.film
    if result.dry:
        dry = _both(show_bracket(result.dry, unit) for unit in units)
        yield "dry film", f"{dry}, predicted, not measured; from {_recipe(film)}"
    if result.judgement and film.wet_range_um:
        limits = _both(show_bracket(Bracket(*film.wet_range_um), unit) for unit in units)
        yield "verdict", f"{_verdict_words(result.judgement, units[0])}; wet range {limits}"


def _recipe(film: Film) -> str:
    thinner = ", no thinner stated" if film.thinner is None else f" and {film.thinner * 100:g} % thinner"
    tolerance = f" +/- {film.solids_tolerance * 100:g}" if film.solids_tolerance else ""
    return f"{(film.solids or 0) * 100:g}{tolerance} % volume solids{thinner}"


def _verdict_words(judgement: Judgement, unit: Unit) -> str:
    if judgement.verdict is not Verdict.STRADDLES:
        return judgement.verdict
    limits = " and ".join(f"{show_length(limit, unit)} {unit}" for limit in judgement.straddled_um)
    return f"straddles {limits}, so the gauge cannot say on which side the film is"


def _reason_facts(code: str, message: str, cure: str) -> Iterator[Fact]:
    yield code, message
    yield "cure", cure


def _units(result: Result) -> tuple[Unit, Unit]:
    """Return the gauge's own unit and the other one."""
    return ("mil", "um") if result.task.gauge.unit == "mil" else ("um", "mil")


def _both(lengths: Iterable[str]) -> str:
    own, other = lengths
    return f"{own} ({other})"
