"""From what a report tells to the blocks that a renderer prints: its sections, their words, and their order."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence

from lastwet.report.charts import Point, run_chart
from lastwet.report.document import NOT_STATED, Block, Card, Chart, Document, Facts, Gallery, Section, Signatures, Table, Words
from lastwet.report.model import Addition, Amendment, Attachment, Details, Estimate, Group, Paint, Reading, Report
from lastwet.report.phrases import both, how_read, length, moment, sentence, side_words, stacked, stacked_moment
from lastwet.units import Bracket

TITLE = "Wet film thickness report"
POINTS_A_CHART = 12
"""More readings than this do not fit across a page; they go on in a chart below."""

_MARKS = {"inside": "\u25a0 inside", "below": "\u25bc below", "above": "\u25b2 above", "straddles": "\u25c6 not decided"}
"""Verdicts with the shapes of the charts."""

DECISION_RULE = (
    "Decision rule: a reading is a bracket, from the last wet tooth to the next. It is inside when the whole bracket lies within the wet "
    "range, below or above when the whole bracket lies on that side of it, and not decided when a limit lies between its ends. A limit "
    "within 2 % of a tooth's value counts as that value. A bracket that is open at the top is never inside."
)
CLAIMS = (
    "A notched gauge shows that the wet film is at least as thick as the last wet tooth and less than the next. Nothing in this report "
    "narrows that bracket. The reading holds for the spot and the moment of the dip; a late dip reads low.",
    "Dry film is predicted from the wet film, the volume solids and the thinner as stated; where no thinner was stated, as if there were "
    "none, and thinned paint dries to less. It serves to adjust the application while the film is wet. It is not a measurement of dry "
    "film, and not for acceptance. The gauge does not verify the solids or the thinning.",
    "Fast solvents, a soft coat below, absorbent wood, curved or rough surfaces and dried paint on the gauge shift the reading; the data "
    "sheet of the product has the last word.",
    "Read by machine means: by the program, from the photo named by its hash. It was tested on rendered photos only. A side that is stated "
    "was named by the person, and not seen in the photo. Confirmed means that a person compared bracket and side with gauge or photo.",
    "The results relate only to the spots that were read.",
)


def compose(report: Report) -> Document:
    """Put a report into blocks, in the order in which it is read."""
    readings = [reading for group in report.groups for reading in group.readings]
    numbers = {reading.entry: number for number, reading in enumerate(readings, 1)}
    sections = [
        Section("Parties, place and item", [Facts(_parties(report.details))]),
        Section("Product and limits", [*_paints(report.groups), Facts(_product(report.details, report.groups)), Words([DECISION_RULE])]),
        Section("Method", [Facts(_method(report))]),
        Section("Application and conditions", [Facts(_conditions(report.details, report.groups))]),
        Section("Results", list(_results(report.groups, numbers))),
        *(Section(addition.title, list(_addition(addition))) for addition in report.additions),
        Section("Refusals, corrections and voids", list(_exceptions(readings, report.amendments, numbers))),
        Section("Evidence", [*_evidence(readings, numbers), *_attached(report.attached, numbers)]),
        Section("What these figures mean", [Words(CLAIMS, caution=True)]),
        Section("Records", [Facts(_records(report)), Words([_HOW_TO_CHECK])]),
        Section("Signatures", [Signatures(_roles(report.details))]),
    ]
    if report.replaces:
        sections.insert(0, Section(f"Changes since report {report.replaces.report_id}", [_changes(report.replaces.changes)]))
    origin = report.origin
    return Document(
        title=TITLE,
        report_id=report.report_id,
        organisation=report.details.organisation or f"organisation {NOT_STATED}",
        summary=list(_summary(report, readings)),
        sections=sections,
        seal=f"log entry {origin.head_entry}, hash {origin.head_hash[:16]}",
        issued=report.issued.isoformat(timespec="seconds"),
    )


_HOW_TO_CHECK = (
    "The readings are kept in an append-only log in which each entry is sealed by the hash of the one before. To check this report, "
    "compare the hash above with the log's entry of that number, and each photo's hash with the file of that name. This shows later "
    "changes; it does not prevent them. The log's documentation tells how to do both with two standard tools."
)


# --- the head


def _summary(report: Report, readings: Sequence[Reading]) -> Iterator[tuple[str, str]]:
    yield "Report", report.report_id + (f", replaces report {report.replaces.report_id}" if report.replaces else "")
    yield "Issued", f"{moment(report.issued)} by {report.issued_by}"
    yield "Covers", report.origin.scope
    yield "Work", _period(readings)
    yield "Readings", _counts(readings)
    yield "Result", _outcome(readings)


def _period(readings: Sequence[Reading]) -> str:
    if not readings:
        return "no readings"
    times = sorted(reading.received for reading in readings)
    first, last = moment(times[0]), moment(times[-1])
    return f"logged {first}" if first == last else f"logged {first} to {last}"


def _counts(readings: Sequence[Reading]) -> str:
    valid = _in_use(readings)
    counts = {
        "by machine": sum(not reading.by_eye for reading in valid),
        "by eye": sum(reading.by_eye for reading in valid),
        "confirmed by a person": sum(bool(reading.confirmed_by) for reading in valid),
        "corrected": sum(reading.corrected_in is not None for reading in valid),
    }
    told = f"{len(valid)} in use: " + ", ".join(f"{count} {what}" for what, count in counts.items())
    unread = sum(reading.wet is None and not reading.void for reading in readings)
    again = sum(reading.same_as is not None and not reading.void for reading in readings)
    twice = f", {again} of a photo that was logged before" if again else ""
    return f"{told}; {unread} not read, {sum(reading.void for reading in readings)} void{twice}"


def _in_use(readings: Sequence[Reading]) -> list[Reading]:
    return [reading for reading in readings if reading.wet and not reading.void and reading.same_as is None]


def _outcome(readings: Sequence[Reading]) -> str:
    verdicts = Counter(reading.verdict or "without a wet range" for reading in _in_use(readings))
    if not verdicts:
        return "nothing was read"
    order = ("inside", "below", "above", "straddles", "without a wet range")
    return ", ".join(f"{verdicts[name]} {_MARKS.get(name, name)}" for name in order if name in verdicts)


def _changes(changes: Sequence[str]) -> Block:
    return Words(changes or ["Nothing in the log has changed for what this report covers; what is stated beside it may have."])


# --- what the log does not know


def _stated(value: str | None) -> str:
    return value or NOT_STATED


def _parties(details: Details) -> list[tuple[str, str]]:
    return [
        ("Organisation", _stated(details.organisation)),
        ("Address", _stated(details.address)),
        ("Customer", _stated(details.customer)),
        ("Job", _stated(details.job)),
        ("Contract", _stated(details.contract)),
        ("Place of work", _stated(details.place)),
        ("Item", _stated(details.item)),
        ("Condition of the item", _stated(details.item_condition)),
        ("Specification", _stated(details.specification)),
    ]


def _product(details: Details, groups: Sequence[Group]) -> list[tuple[str, str]]:
    above = "as in the table above" if groups and all(group.paint.sheet for group in groups) else None
    coats = _by_coat(groups)
    return [
        ("Product", details.product or above or NOT_STATED),
        ("Batch", details.batch or coats),
        ("Thinner", details.thinner or coats),
        ("Data sheet", details.data_sheet or above or NOT_STATED),
        ("Dry range for one coat", details.dry_range or above or NOT_STATED),
        ("Maximum build", details.maximum_build or above or NOT_STATED),
    ]


def _conditions(details: Details, groups: Sequence[Group]) -> list[tuple[str, str]]:
    coats = _by_coat(groups)
    return [
        ("Applicator", details.applicator or coats),
        ("Equipment", details.equipment or coats),
        ("Settings", details.settings or coats),
        ("Air temperature", details.air_temperature or coats),
        ("Relative humidity", details.humidity or coats),
        ("Surface temperature", details.surface_temperature or coats),
        ("Weather or booth", _stated(details.weather)),
        ("Remarks", _stated(details.remarks)),
    ]


def _by_coat(groups: Sequence[Group]) -> str:
    return "as logged for each coat, under Results" if groups and all(group.facts for group in groups) else NOT_STATED


def _roles(details: Details) -> list[tuple[str, str]]:
    return [("Prepared by", details.prepared_by or ""), ("Checked and approved by", details.approved_by or "")]


# --- product and method


def _paints(groups: Iterable[Group]) -> Iterator[Block]:
    paints = list(dict.fromkeys(group.paint for group in groups))
    if paints:
        head = (
            "Coating",
            "Volume solids",
            "Thinner, of the mixed paint",
            "Wet range, a coat",
            "Dry range, a coat",
            "Maximum build",
            "Data sheet",
        )
        yield Table("Limits as used for the readings", head, [_paint_row(paint) for paint in paints], (3, 2, 2, 2.6, 2.6, 2.6, 4))


def _paint_row(paint: Paint) -> tuple[str, ...]:
    tolerance = f" \u00b1 {paint.solids_tolerance * 100:g}" if paint.solids_tolerance else ""
    return (
        _stated(paint.coating),
        NOT_STATED if paint.solids is None else f"{paint.solids * 100:g}{tolerance} %",
        NOT_STATED if paint.thinner is None else f"{paint.thinner * 100:g} %",
        *(NOT_STATED if limits is None else stacked(Bracket(*limits)) for limits in (paint.wet_range_um, paint.dry_range_um)),
        NOT_STATED if paint.maximum_build is None else f"{length(paint.maximum_build[0])} {paint.maximum_build[1]}",
        _stated(paint.sheet),
    )


def _method(report: Report) -> list[tuple[str, str]]:
    rows = [("Gauge", f"{name}: {sides}") for name, sides in report.gauges] or [("Gauge", NOT_STATED)]
    return [
        ("Principle", "notched wet film gauge, pressed squarely into the wet film; bracket from the last wet tooth to the next"),
        *rows,
        ("Procedure", _stated(report.details.procedure)),
        ("Sampling plan", _stated(report.details.sampling)),
        ("Deviations from the method", _stated(report.details.deviations)),
    ]


# --- results


def _results(groups: Sequence[Group], numbers: Mapping[int, int]) -> Iterator[Block]:
    if not groups:
        yield Words(["No readings were found for what was asked."])
    for group in groups:
        if group.facts:
            yield Facts(group.facts, f"{group.title}: how it was sprayed")
        head = ("No.", "Spot", "Wet film", "Predicted dry film", "Against the range", "Side", "Read", "Logged")
        rows = [_row(numbers[reading.entry], reading) for reading in group.readings if reading.wet]
        if rows:
            yield Table(f"{group.title}: readings" if group.facts else group.title, head, rows, (1.1, 2.4, 3.2, 3.2, 2.7, 2.6, 4.6, 2.6))
        else:
            yield Words([f"{group.title}: {'no photo was read' if group.readings else 'no reading was logged'}."])
        if group.estimate:
            yield Facts(list(_estimate(group.estimate)), f"{group.title}: what the readings say together")
        yield from _charts(group, numbers)


def _row(number: int, reading: Reading) -> tuple[str, ...]:
    return (
        str(number),
        reading.spot or "-" if reading.late_s is None else f"{reading.spot or '-'}\nafter {reading.late_s:g} s",
        stacked(reading.wet),
        stacked(reading.dry),
        _standing(reading),
        side_words(reading),
        how_read(reading).replace("; ", "\n"),
        stacked_moment(reading.received),
    )


def _standing(reading: Reading) -> str:
    """Say how a reading stands against the range, or why it does not count."""
    if reading.void:
        return "void"
    if reading.same_as is not None:
        return f"not counted: photo of entry {reading.same_as}"
    return _MARKS[reading.verdict] if reading.verdict else "no range"


def _estimate(found: Estimate) -> Iterator[tuple[str, str]]:
    mean = "open at the top, so no mean can be given" if found.mean_um is None else length(found.mean_um)
    low, high = found.mean_interval_um
    reach = f"{length(low)} or more" if high is None else f"{length(low)} to {length(high)}"
    if found.confidence is None:
        yield "Mean of the spots read", f"within {reach}, whatever the distribution"
        yield "Spread between spots", "cannot be estimated from these brackets"
    else:
        yield "Mean wet film", f"{mean}; {found.confidence * 100:g} % interval {reach}"
        yield "Spread between spots", f"standard deviation {length(found.spread_um or 0.0)}"
    if found.in_range:
        yield "Probability of the wet range", f"mean {found.in_range[0] * 100:.0f} %, one more spot {found.in_range[1] * 100:.0f} %"


def _charts(group: Group, numbers: Mapping[int, int]) -> Iterator[Block]:
    shown = _in_use(group.readings)
    if len(shown) < 2:
        return
    for part in _parts(shown, POINTS_A_CHART):
        points = [Point(f"no. {numbers[r.entry]}", r.wet.low_um, r.wet.high_um, r.verdict) for r in part if r.wet]
        yield Chart(run_chart(points, "\u00b5m", group.paint.wet_range_um, f"Wet film readings, {group.title}"))


def _parts(readings: Sequence[Reading], most: int) -> list[Sequence[Reading]]:
    """Divide evenly into parts of at most `most`, so that the last chart is not a stub."""
    count = -(-len(readings) // most)
    size = -(-len(readings) // count)
    return [readings[start : start + size] for start in range(0, len(readings), size)]


def _addition(addition: Addition) -> Iterator[Block]:
    if addition.facts:
        yield Facts(addition.facts)
    if addition.words:
        yield Words(addition.words)
    yield from map(Chart, addition.charts)


# --- what went otherwise


def _exceptions(readings: Sequence[Reading], amendments: Sequence[Amendment], numbers: Mapping[int, int]) -> Iterator[Block]:
    unread = [reading for reading in readings if reading.wet is None]
    if unread:
        refused = [_refused_row(numbers[reading.entry], reading) for reading in unread]
        yield Table("Photos that were not read", ("No.", "Entry", "Logged", "Reason", "What it says"), refused, (1, 1.2, 2.4, 2.4, 9))
    if amendments:
        said = [_amendment_row(amendment, numbers) for amendment in amendments]
        head = ("Entry", "Concerns", "What", "By", "When", "Why")
        yield Table("Confirmations, corrections, voids and notes", head, said, (1.1, 1.7, 4.6, 2.6, 2.4, 4.2))
    if not unread and not amendments:
        yield Words(["None: every photo was read, and nothing was confirmed, corrected, made void or noted."])


def _amendment_row(said: Amendment, numbers: Mapping[int, int]) -> tuple[str, ...]:
    return str(said.entry), _about(said.concerns, numbers), said.words, _stated(said.by), stacked_moment(said.at), said.reason or "-"


def _about(entry: int, numbers: Mapping[int, int]) -> str:
    return f"no. {numbers[entry]}" if entry in numbers else f"entry {entry}"


def _refused_row(number: int, reading: Reading) -> tuple[str, ...]:
    codes = ", ".join(dict.fromkeys(refusal.code for refusal in reading.refusals)) or "-"
    words = " ".join(sentence(refusal.message) for refusal in reading.refusals) or "-"
    return str(number), str(reading.entry), stacked_moment(reading.received), ("void; " if reading.void else "") + codes, words


# --- evidence


def _evidence(readings: Sequence[Reading], numbers: Mapping[int, int]) -> Iterator[Block]:
    """Show the photos; a reading that was typed in has none, and takes a row in place of a card."""
    if not readings:
        yield Words(["There is no photo, since there is no reading."])
    cards = [_card(numbers[reading.entry], reading) for reading in readings if reading.photo_sha256]
    if cards:
        yield Gallery(cards)
    rows = [_photoless_row(numbers[reading.entry], reading) for reading in readings if not reading.photo_sha256]
    if rows:
        head = ("No.", "Entry", "Logged", "Wet film", "Gauge and side", "Seen", "Read")
        yield Table("Readings without a photo", head, rows, (1, 1.2, 2.4, 2.8, 3.4, 3.4, 3.4))


def _photoless_row(number: int, reading: Reading) -> tuple[str, ...]:
    return (
        str(number),
        str(reading.entry),
        stacked_moment(reading.received),
        ("void\n" if reading.void else "") + (stacked(reading.wet) if reading.wet else "not read"),
        f"{reading.gauge},\nside {side_words(reading)}",
        _seen(reading) or "-",
        how_read(reading).replace("; ", "\n"),
    )


def _card(number: int, reading: Reading) -> Card:
    found = f"{both(reading.wet)} wet" if reading.wet else "not read"
    lines = [
        f"Log entry {reading.entry}, {moment(reading.received)}",
        f"{reading.gauge}, side {side_words(reading)}",
        _seen(reading),
        how_read(reading),
        *_photo_lines(reading),
    ]
    void = "void, " if reading.void else ""
    shows = "as it was read by eye" if reading.by_eye else "with what was seen marked"
    alt = f"Photo of reading {number}, {shows}: {found}. {reading.deciding}"
    return Card(f"{number}. {void}{found}", [line for line in lines if line], reading.picture, alt)


def _seen(reading: Reading) -> str:
    return reading.deciding if reading.wet else ", ".join(refusal.code for refusal in reading.refusals)


def _attached(attached: Sequence[Attachment], numbers: Mapping[int, int]) -> Iterator[Block]:
    if attached:
        yield Gallery([_attachment_card(each, numbers) for each in attached], "Attached pictures")


def _attachment_card(said: Attachment, numbers: Mapping[int, int]) -> Card:
    to = _about(said.concerns, numbers)
    lines = [f"Log entry {said.entry}, to {to}, {moment(said.at)}", f"attached by {_stated(said.by)}", *_hash_lines(said.sha256)]
    fault = [f"No picture: {said.picture_fault}"] if said.picture_fault else []
    return Card(said.title, [*lines, *fault], said.picture, f"Picture attached to {to}: {said.title}")


def _hash_lines(sha256: str | None, words: str = "SHA-256") -> list[str]:
    return [f"{words}\n{sha256[:32]}\n{sha256[32:]}"] if sha256 else []


def _photo_lines(reading: Reading) -> Iterator[str]:
    yield f"Camera's claim: {reading.camera_time}" if reading.camera_time else "The camera states no time"
    yield from _hash_lines(reading.photo_sha256, "Photo SHA-256")
    for shows, sha256 in reading.more_photos:
        yield from _hash_lines(sha256, f"{shows}, SHA-256")
    if reading.picture_fault:
        yield f"No picture: {reading.picture_fault}"


# --- records


def _records(report: Report) -> list[tuple[str, str]]:
    origin = report.origin
    return [
        ("Report made by", f"lastwet {origin.version}"),
        ("Readings made by", "; ".join(f"{name} ({count})" for name, count in origin.readers.items()) or "no reading"),
        ("Newest log entry", str(origin.head_entry)),
        ("Its hash (SHA-256)", origin.head_hash),
        ("Check of the log at issue", origin.intact),
    ]
