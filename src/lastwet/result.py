"""What a photo, or several of one dip, come to: outcome, predicted film, verdict, and the object that `--json` prints and the log keeps."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import isfinite
from typing import Any, Literal

from lastwet.errors import ExitCode, UnusablePhoto
from lastwet.film.dry import Judgement, Verdict, predict_dry, reckoned_thinner, thinner_caution, verdict
from lastwet.gauge import Gauge, Side
from lastwet.logbook.kinds import Status
from lastwet.reading.outcome import EndTab, Outcome, Reading, Refusal, Seen, SideSource, Tooth
from lastwet.reading.photo import Photo
from lastwet.units import Bracket, Unit

SCHEMA = "lastwet.reading/1"
OUTSIDE = frozenset({Verdict.BELOW, Verdict.ABOVE})
"""Verdicts that are outside the specification; where a bracket straddles a limit, nothing is decided."""

_ORDER = (ExitCode.UNEXPECTED, ExitCode.NOT_WRITTEN, ExitCode.UNUSABLE, ExitCode.REFUSED, ExitCode.OUT_OF_SPECIFICATION)


@dataclass(frozen=True, slots=True)
class Film:
    """What is known of the paint in the gauge."""

    coating: str | None = None
    """Name of the coating card, if one was given."""
    solids: float | None = None
    """Volume solids before thinning, 0..1."""
    thinner: float | None = None
    """Volume of thinner over volume of mixed paint; None where it was not stated."""
    wet_range_um: tuple[float, float] | None = None
    """Limits of the wet film for one coat."""
    solids_tolerance: float = 0.0
    """Plus or minus on `solids` by the coating card; it widens the prediction."""
    thinner_max: float | None = None
    """Most thinner that the coating card allows, as `thinner`."""

    def dry(self, wet: Bracket) -> Bracket | None:
        """Predict the dry film, where the volume solids are known."""
        return None if self.solids is None else predict_dry(wet, self.solids, self.thinned, self.solids_tolerance)

    def judge(self, wet: Bracket) -> Judgement | None:
        """Judge the wet film, where its limits are known."""
        return None if self.wet_range_um is None else verdict(wet, self.wet_range_um)

    @property
    def thinned(self) -> float:
        """The thinner that is reckoned with: none where none was stated."""
        return reckoned_thinner(self.thinner)

    @property
    def caution(self) -> str | None:
        """What the person should know before the photo is taken; None where nothing is wrong."""
        return thinner_caution(self.thinned, self.thinner_max, self.coating)


@dataclass(frozen=True, slots=True)
class Task:
    """What is common to the photos of one call."""

    gauge: Gauge
    side_id: str | None = None
    """The side the user states; None to infer it."""
    film: Film = Film()

    def __post_init__(self) -> None:
        """Raise `UsageError` when the gauge has no side of that name."""
        _ = self.side

    @property
    def side(self) -> Side | None:
        """The side stated."""
        return None if self.side_id is None else self.gauge.side(self.side_id)


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """One of several photos of a dip that were read together."""

    name: str
    """The photo as the user named it."""
    sha256: str | None
    original: bytes | None
    """The file's bytes; None where the file is not usable."""
    outcome: Outcome | UnusablePhoto
    """What it says by itself."""
    used: bool
    """Whether it adds to what they say together."""


@dataclass(frozen=True, slots=True, eq=False)
class Clean:
    """The photo of the wiped gauge that was taken before the dip."""

    name: str
    sha256: str | None
    photo: Photo | UnusablePhoto


@dataclass(frozen=True, slots=True, eq=False)
class Result:
    """One photo, or several of one dip, and what it came to."""

    name: str
    """The photo as the user named it; of several, the one that says most."""
    task: Task
    photo: Photo | None
    """None where the file is not usable; of several, the one that says most."""
    outcome: Outcome | UnusablePhoto
    sha256: str | None
    """Of the file's bytes; None where they could not be read."""
    seconds: float
    """From the file to the outcome."""
    reader_settings: str | None = None
    """Identifies the settings the reader had, where it says."""
    method: Literal["photo", "eye"] = "photo"
    """Whether the machine read the photo, or a person the gauge, with the photo as evidence."""
    failure: str | None = None
    """What went wrong in the program itself, which then refuses the photo, or reads the others of the dip; None as it should be."""
    parts: tuple[Part, ...] = ()
    """All photos of the dip in the order given, where they were read together; empty for one that was read by itself."""
    clean: Clean | None = None
    """The photo of the clean gauge, where there is one."""

    @property
    def photos(self) -> tuple[str, ...]:
        """The names of all photos of the dip."""
        return tuple(part.name for part in self.parts) or (self.name,)

    @property
    def wet(self) -> Bracket | None:
        """Wet film, where it was read."""
        return self.outcome.wet if isinstance(self.outcome, Reading) else None

    @property
    def dry(self) -> Bracket | None:
        """Dry film predicted, where the wet film was read and the volume solids are known."""
        return None if self.wet is None else self.task.film.dry(self.wet)

    @property
    def judgement(self) -> Judgement | None:
        """Verdict against the wet range, where there are both."""
        return None if self.wet is None else self.task.film.judge(self.wet)

    def exit_code(self, *, check: bool) -> ExitCode:
        """Return what this photo asks the exit code to be; being outside the wet range matters only with `check`."""
        if self.failure:
            return ExitCode.UNEXPECTED
        if any(isinstance(outcome, UnusablePhoto) for outcome in (self.outcome, *(part.outcome for part in self.parts))):
            return ExitCode.UNUSABLE
        if isinstance(self.outcome, Refusal):
            return ExitCode.REFUSED
        outside = self.judgement is not None and self.judgement.verdict in OUTSIDE
        return ExitCode.OUT_OF_SPECIFICATION if check and outside else ExitCode.DONE

    def as_json(self) -> dict[str, Any]:
        """Return the object of the JSON contract; docs/reading.schema.json describes it."""
        gauge, film, outcome = self.task.gauge, self.task.film, self.outcome
        reading = outcome if isinstance(outcome, Reading) else None
        side, side_source = self._side()
        return {
            "schema": SCHEMA,
            **({"photos": list(self.photos)} if self.parts else {"photo": self.name}),
            "sha256": self.sha256,
            "outcome": _status(outcome),
            "refusals": _refusals(outcome),
            "method": self.method,
            "gauge": gauge.name,
            "side": side.id if side else None,
            "side_source": side_source,
            "unit": gauge.unit,
            "last_wet": reading.last_wet if reading else None,
            "confidence": _share(reading.confidence) if reading and self.method == "photo" else None,
            **_film(self.wet, film),
            "best_guess": _best_guess(outcome),
            **_seen(outcome),
            "seconds": round(self.seconds, 3),
            **({"each": [_part(part) for part in self.parts]} if self.parts else {}),
            **({"clean": {"photo": self.clean.name, "sha256": self.clean.sha256}} if self.clean else {}),
        }

    def _side(self) -> tuple[Side | None, SideSource | None]:
        """Return the side the reader settled on, else the one stated."""
        if not isinstance(self.outcome, UnusablePhoto) and self.outcome.side:
            return self.outcome.side, self.outcome.side_source
        return self.task.side, "stated" if self.task.side else None


def typed_json(wet: Bracket, film: Film, unit: Unit, side: str | None = None, last_wet: int | None = None) -> dict[str, Any]:
    """Return a reading that was typed in, without a photo, by the names that `Result.as_json` has for it."""
    said = {"outcome": Status.READ.value, "method": "eye", "side": side, "side_source": side and "stated", "unit": unit}
    return {**said, "last_wet": last_wet, **_film(wet, film)}


def photo_names(reading: Mapping[str, Any]) -> list[str]:
    """Return the names of all photos of a reading, from the object of `Result.as_json`."""
    return list(reading["photos"]) if "photos" in reading else [reading["photo"]]


def in_short(names: Iterable[str]) -> str:
    """Name the first of one or more photos, and say how many more there are."""
    first, *others = names
    return f"{first} and {len(others)} more" if others else first


def _film(wet: Bracket | None, film: Film) -> dict[str, Any]:
    judged = film.judge(wet) if wet else None
    return {
        "wet": _bracket(wet),
        "dry": _bracket(film.dry(wet)) if wet else None,
        "verdict": judged.verdict.value if judged else None,
        "wet_range_um": [_um(limit) for limit in film.wet_range_um] if film.wet_range_um else None,
    }


def settled(codes: Iterable[ExitCode]) -> ExitCode:
    """Return the exit code of a call that met `codes`: the first of them in the order 1, 7, 3, 4, 5, 0."""
    met = set(codes)
    return next((code for code in _ORDER if code in met), ExitCode.DONE)


def _status(outcome: Outcome | UnusablePhoto) -> str:
    match outcome:
        case Reading():
            return Status.READ.value
        case Refusal():
            return Status.REFUSED.value
        case UnusablePhoto():
            return Status.UNUSABLE.value


def _part(part: Part) -> dict[str, Any]:
    last_wet = part.outcome.last_wet if isinstance(part.outcome, Reading) else None
    said = {"outcome": _status(part.outcome), "last_wet": last_wet, "refusals": _refusals(part.outcome)}
    return {"photo": part.name, "sha256": part.sha256, "used": part.used, **said}


def _refusals(outcome: Outcome | UnusablePhoto) -> list[dict[str, str]]:
    match outcome:
        case Reading():
            return []
        case Refusal():
            return [_refusal(reason.code, reason.message, reason.cure) for reason in outcome.reasons]
        case UnusablePhoto():
            return [_refusal(outcome.code, outcome.message, outcome.cure)]


def _refusal(code: str, message: str, cure: str) -> dict[str, str]:
    return {"code": str(code), "message": message, "cure": cure}


def _bracket(bracket: Bracket | None) -> dict[str, float | None] | None:
    if bracket is None:
        return None
    return {"low_um": _um(bracket.low_um), "high_um": None if bracket.high_um is None else _um(bracket.high_um)}


def _um(value_um: float) -> float:
    """Round to a nanometre, which takes away only what binary fractions add: 3 mil is 76.2, not 76.19999999999999."""
    return round(value_um, 3)


def _best_guess(outcome: Outcome | UnusablePhoto) -> dict[str, float] | None:
    guess = outcome.best_guess if isinstance(outcome, Refusal) else None
    return None if guess is None else {"last_wet": guess.last_wet, "confidence": _share(guess.confidence)}


def _seen(outcome: Outcome | UnusablePhoto) -> dict[str, Any]:
    seen = Seen() if isinstance(outcome, UnusablePhoto) else outcome.seen
    return {
        "teeth": [{"value": tooth.value, **_place(tooth)} for tooth in seen.teeth],
        "end_tabs": [_place(tab) for tab in seen.end_tabs],
        "quality": {name: round(float(value), 4) if isfinite(value) else None for name, value in seen.quality.items()},
    }


def _place(element: Tooth | EndTab) -> dict[str, Any]:
    x, y = element.tip_px
    return {"wet_probability": _share(element.wet_probability), "tip_px": [round(float(x), 1), round(float(y), 1)]}


def _share(probability: float) -> float:
    return round(float(probability), 6)
