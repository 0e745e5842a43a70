"""What a report tells, before it is put into words: one record for each thing that a reader of it may ask about."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from lastwet.units import Bracket


@dataclass(frozen=True, slots=True)
class Details:
    """What the log does not know, as the person who issues the report states it; None is printed as not stated."""

    organisation: str | None = None
    address: str | None = None
    customer: str | None = None
    job: str | None = None
    contract: str | None = None
    place: str | None = None
    item: str | None = None
    item_condition: str | None = None
    specification: str | None = None
    procedure: str | None = None
    sampling: str | None = None
    deviations: str | None = None
    product: str | None = None
    batch: str | None = None
    thinner: str | None = None
    data_sheet: str | None = None
    dry_range: str | None = None
    maximum_build: str | None = None
    applicator: str | None = None
    equipment: str | None = None
    settings: str | None = None
    air_temperature: str | None = None
    humidity: str | None = None
    surface_temperature: str | None = None
    weather: str | None = None
    prepared_by: str | None = None
    approved_by: str | None = None
    remarks: str | None = None


@dataclass(frozen=True, slots=True)
class Refused:
    """Why a photo was not read."""

    code: str
    message: str


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading as it stands."""

    entry: int
    """Number of the log entry of the photo."""
    received: dt.datetime
    camera_time: str | None
    """What the camera claims."""
    by: str | None
    outcome: str
    """read, refused or unusable."""
    by_eye: bool
    confirmed_by: tuple[str, ...]
    corrected_in: int | None
    """Entry of the correction that stands; None where the first reading stands."""
    void: bool
    gauge: str
    side: str | None
    side_source: str | None
    """stated, count, geometry or numerals; after a confirmation or a reading by eye a person answers for it."""
    deciding: str
    """The last wet tooth and the next, in words, by the values stamped on the gauge."""
    wet: Bracket | None
    dry: Bracket | None
    verdict: str | None
    refusals: tuple[Refused, ...] = ()
    spot: str | None = None
    late_s: float | None = None
    """Seconds from spraying to the dip."""
    photo_sha256: str | None = None
    same_as: int | None = None
    """Entry of the reading that has the same photo, so that this one, which is later, does not count."""
    more_photos: tuple[tuple[str, str], ...] = ()
    """What each further photo shows, and its SHA-256; the picture is of the one before."""
    picture: bytes | None = None
    """JPEG of what was seen, without metadata."""
    picture_fault: str | None = None
    """Why there is no picture."""


@dataclass(frozen=True, slots=True)
class Amendment:
    """An entry that confirms, corrects, voids or annotates another one."""

    entry: int
    concerns: int
    kind: str
    at: dt.datetime
    by: str | None
    words: str
    reason: str | None


@dataclass(frozen=True, slots=True)
class Attachment:
    """A picture that was attached to another entry."""

    entry: int
    concerns: int
    at: dt.datetime
    by: str | None
    title: str
    sha256: str | None
    picture: bytes | None
    """JPEG without metadata."""
    picture_fault: str | None
    """Why there is no picture."""


@dataclass(frozen=True, slots=True)
class Paint:
    """What the readings say of the paint and its limits."""

    coating: str | None
    solids: float | None
    solids_tolerance: float
    thinner: float | None
    wet_range_um: tuple[float, float] | None
    dry_range_um: tuple[float, float] | None = None
    maximum_build: tuple[float, str] | None = None
    """Micrometres, and whether of dry or wet film."""
    sheet: str | None = None
    """Title and date of the data sheet."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """What the readings of one coat say together; micrometres."""

    readings: int
    mean_um: float | None
    mean_interval_um: tuple[float, float | None]
    spread_um: float | None
    confidence: float | None
    """Of the interval; None where the spread cannot be estimated from these readings."""
    in_range: tuple[float, float] | None
    """Probability that the mean, and that one more spot, lies in the wet range."""


@dataclass(frozen=True, slots=True)
class Group:
    """Readings that belong together: one coat on one board, or what has no board."""

    title: str
    readings: Sequence[Reading]
    paint: Paint
    estimate: Estimate | None
    facts: Sequence[tuple[str, str]] = ()
    """Settings, conditions and the rest, as logged for the coat."""


@dataclass(frozen=True, slots=True)
class Addition:
    """A part of the report that comes from entries of another kind: boards, measured dry film."""

    title: str
    facts: Sequence[tuple[str, str]] = ()
    words: Sequence[str] = ()
    charts: Sequence[str] = ()


@dataclass(frozen=True, slots=True)
class Origin:
    """What ties the report to the log."""

    version: str
    readers: Mapping[str, int]
    """Version and settings of the readers, and how many of the readings each made."""
    head_entry: int
    head_hash: str
    intact: str
    """What the check of the log at the time of issue found."""
    scope: str
    """What was asked of the log."""


@dataclass(frozen=True, slots=True)
class Replaced:
    """An earlier report that this one takes the place of."""

    report_id: str
    changes: Sequence[str]


@dataclass(frozen=True, slots=True)
class Report:
    """A report of readings."""

    report_id: str
    issued: dt.datetime
    issued_by: str
    details: Details
    groups: Sequence[Group]
    origin: Origin
    amendments: Sequence[Amendment] = ()
    additions: Sequence[Addition] = ()
    gauges: Sequence[tuple[str, str]] = field(default=())
    """Name of each gauge and the values of its sides."""
    replaces: Replaced | None = None
    attached: Sequence[Attachment] = ()
