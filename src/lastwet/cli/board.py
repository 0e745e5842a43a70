"""`lastwet board`: test pieces and work pieces, their coats and readings, and what to do next."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from lastwet.cli import complain, complain_of_failure, visible
from lastwet.cli.film import Area, CheckRules, Cured, Iso19840, Pa2
from lastwet.cli.log import Job, Place
from lastwet.errors import ExitCode, UsageError

if TYPE_CHECKING:
    from lastwet.cli.wording import Line
    from lastwet.film.dialin import Settings
    from lastwet.gauge import Gauge
    from lastwet.job.board import Paint
    from lastwet.job.state import BoardState
    from lastwet.logbook.entry import Entry
    from lastwet.logbook.store import Logbook
    from lastwet.result import Result

app = typer.Typer(help="Keep test pieces and work pieces: coats, readings, advice, build.", no_args_is_help=True)

Name = Annotated[str, typer.Argument(metavar="BOARD", help="The piece, by its name.")]
By = Annotated[str | None, typer.Option(metavar="NAME", help="Who did it; default your login name.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON, one object a line, and nothing else.")]

WIPE = "wipe the gauge now, and before the next dip"
MARKS = "a dip marks the film of a work piece: dip a scrap test piece where you can, and touch up the mark while the film is wet"


@app.command()
def new(
    name: Name,
    coating: Annotated[str, typer.Option(metavar="NAME|FILE", help="The paint: see `lastwet coating list`.")],
    work_piece: Annotated[bool, typer.Option("--work-piece", help="It is a work piece, not a scrap test piece.")] = False,
    aim: Annotated[str | None, typer.Option(metavar="LENGTH", help="Wet film to aim for; default the middle of the wet range.")] = None,
    job: Annotated[str | None, typer.Option(metavar="NAME", help="The job; every entry of the board is found by it.")] = None,
    by: By = None,
    log: Place = None,
) -> None:
    """Begin a board: a scrap test piece, or a work piece."""
    from lastwet.film.coating import cautions
    from lastwet.job.board import Work
    from lastwet.service import boards
    from lastwet.service.cards import cards_beside
    from lastwet.units import parse_length_um

    card, aim_um = cards_beside(log).find_coating(coating), None if aim is None else parse_length_um(aim)
    work = Work.PIECE if work_piece else Work.SCRAP
    entry = boards.new_board(_begun(log), name, card, work, _by(by), aim_um, job)
    for caution in [*cautions(card), *([MARKS] if work_piece else [])]:
        complain(caution)
    of_job = f", job {entry.body['job']}" if job else ""
    typer.echo(visible(f"log entry {entry.seq}: board {entry.body['board']}, {work}, {card.name}{of_job}"))


@app.command()
def coat(
    name: Name,
    settings: Annotated[
        Literal["last", "dialled-in"] | None,
        typer.Option(help="Begin from the settings of this coating's last coat, or from those that were dialled in."),
    ] = None,
    tip: Annotated[str | None, typer.Option(metavar="TEXT", help="Tip or needle.")] = None,
    fluid_pressure: Annotated[str | None, typer.Option(metavar="PRESSURE", help="As in 2bar or 30psi.")] = None,
    air_pressure: Annotated[str | None, typer.Option(metavar="PRESSURE", help="Atomising air, as in 2bar or 30psi.")] = None,
    distance: Annotated[str | None, typer.Option(metavar="LENGTH", help="Gun to work, as in 200mm or 8in.")] = None,
    speed: Annotated[str | None, typer.Option(metavar="SPEED", help="Pace of the gun, as in 400mm/s or 16in/s.")] = None,
    flow: Annotated[str | None, typer.Option(metavar="FLOW", help="Fluid, as in 200ml/min or 7floz/min.")] = None,
    fan: Annotated[str | None, typer.Option(metavar="LENGTH", help="Width of the fan on the work.")] = None,
    overlap: Annotated[float | None, typer.Option(metavar="PERCENT", help="Part of the fan that lies on the stroke before.")] = None,
    passes: Annotated[int | None, typer.Option(min=1, help="Strokes over each place.")] = None,
    other: Annotated[list[str] | None, typer.Option("--set", metavar="NAME=TEXT", help="Any other setting; may be given again.")] = None,
    thinner: Annotated[
        float | None,
        typer.Option(metavar="PERCENT", help="Thinner added, by volume of the mixed paint; default not stated, or as with --settings."),
    ] = None,
    viscosity: Annotated[str | None, typer.Option(metavar="SECONDS", help="Efflux time and cup, as in '26 s, 4 mm cup'.")] = None,
    material: Annotated[str | None, typer.Option(metavar="TEMPERATURE", help="Of the paint, as in 20C.")] = None,
    batch: Annotated[str | None, typer.Option(metavar="TEXT", help="Batch of the paint.")] = None,
    mix: Annotated[str | None, typer.Option(metavar="TEXT", help="How it was mixed, as in '10:1 by volume'.")] = None,
    mixed_at: Annotated[str | None, typer.Option(metavar="TIME", help="When it was mixed, as in 2026-03-02T14:00.")] = None,
    applicator: Annotated[str | None, typer.Option(metavar="NAME", help="Who sprayed.")] = None,
    air: Annotated[str | None, typer.Option(metavar="TEMPERATURE", help="Of the air.")] = None,
    humidity: Annotated[float | None, typer.Option(metavar="PERCENT", help="Relative humidity.")] = None,
    surface: Annotated[str | None, typer.Option(metavar="TEMPERATURE", help="Of the surface.")] = None,
    at: Annotated[str | None, typer.Option(metavar="TIME", help="When it was sprayed; default now.")] = None,
    by: By = None,
    log: Place = None,
) -> None:
    """Log a coat, with how it was sprayed; what speaks against it is said first."""
    from lastwet.film.quantity import share_of
    from lastwet.service import boards
    from lastwet.service.times import begin_of

    logbook = _open(log)
    begin, thinned = (None, None) if settings is None else boards.gun_of(logbook, name, settings)
    stated = {"tip": tip, **_quantities(fluid_pressure, air_pressure, distance, speed, flow, fan), "passes": passes}
    gun = _settings(begin, {**stated, "overlap": None if overlap is None else share_of(overlap, "an overlap")}, other or [])
    paint = _paint(
        thinned if thinner is None else thinner / 100, viscosity, material, batch, mix, mixed_at, applicator, air, humidity, surface
    )
    entry, cautions = boards.new_coat(logbook, name, gun, paint, _by(by), None if at is None else begin_of(at))
    for caution in cautions:
        complain(caution)
    board = boards.find_board(logbook, name)
    if board.work == "work piece":
        complain(MARKS)
    typer.echo(visible(f"log entry {entry.seq}: coat {len(board.coats)} on {board.name}; dip at once, with a clean gauge"))


@app.command()
def add(
    name: Name,
    photo: Annotated[
        list[str] | None, typer.Option(metavar="FILE", help="Photo of the dip; given again, all of them are read together.")
    ] = None,
    clean: Annotated[
        str | None, typer.Option(metavar="FILE", help="The same side before the dip, wiped: what looks wet there is residue.")
    ] = None,
    wet: Annotated[str | None, typer.Option(metavar="BRACKET", help="The bracket itself, as in 110-140um.")] = None,
    gauge: Annotated[str | None, typer.Option(metavar="NAME|FILE", help="The gauge: see `lastwet gauge list`.")] = None,
    side: Annotated[str | None, typer.Option(metavar="ID", help="The side that was pressed.")] = None,
    last_wet: Annotated[int | None, typer.Option(metavar="N", min=0, help="Read by eye: N teeth are wet, from the lowest.")] = None,
    spot: Annotated[str | None, typer.Option(metavar="TEXT", help="Where on the piece; the same for all sides of one dip place.")] = None,
    seconds: Annotated[float | None, typer.Option(metavar="SECONDS", help="From spraying to the dip.")] = None,
    touched_up: Annotated[bool | None, typer.Option("--touched-up/--not-touched-up", help="The mark on a work piece.")] = None,
    by: By = None,
    log: Place = None,
    as_json: AsJson = False,
) -> None:
    """Add a reading of the last coat, from photos or typed in, and say what to change."""
    from lastwet.service import boards
    from lastwet.service.cards import cards_beside

    logbook, where = _open(log), boards.Place(spot, seconds, touched_up)
    pressed = cards_beside(log).find_gauge(gauge) if gauge else None
    code, result = ExitCode.DONE, None
    if photo:
        if pressed is None or wet is not None:
            raise UsageError("a photo is read with its gauge", "add --gauge, and leave --wet out")
        result, entry = boards.dip_photo(logbook, name, photo, pressed, side, where, _by(by), last_wet, clean=clean)
        code = result.exit_code(check=False)
        _say(result, entry, as_json)
    elif clean is not None:
        raise UsageError("--clean needs a photo of the dip", "add --photo")
    else:
        _typed(logbook, name, wet, pressed, side, last_wet, where, _by(by))
    _after_dip(logbook, name, result, as_json)
    raise typer.Exit(code)


def _say(result: Result, entry: Entry | None, as_json: bool) -> None:
    """Say what came of the photos; with `as_json` no more than that the program failed on one."""
    from lastwet.cli.text import result_text
    from lastwet.service import Kept

    if not as_json:
        typer.echo(result_text(result, Kept(entry.seq if entry else None)))
    complain_of_failure(result)


def _typed(
    logbook: Logbook, name: str, wet: str | None, gauge: Gauge | None, side: str | None, last_wet: int | None, where: Any, by: str
) -> None:
    """Log a reading that was typed in: the bracket itself, or the wet teeth of a side."""
    from lastwet.service import boards
    from lastwet.units import parse_bracket

    if wet is not None and last_wet is None and gauge is None:
        boards.dip_typed(logbook, name, parse_bracket(wet), where, by)
    elif wet is None and gauge is not None and side is not None and last_wet is not None:
        pressed = gauge.side(side)
        if last_wet > len(pressed.teeth):
            raise UsageError(f"side {side} has only {len(pressed.teeth)} teeth", "count the wet teeth from the lowest")
        boards.dip_typed(logbook, name, pressed.bracket(last_wet), where, by, (gauge, side, last_wet))
    else:
        raise UsageError("there is no reading", "give --photo, or --wet, or all of --gauge, --side and --last-wet")


def _after_dip(logbook: Logbook, name: str, result: Result | None, as_json: bool) -> None:
    """Say what the coat comes to with the new reading, and remind of the gauge."""
    from lastwet.cli import board_words, wording
    from lastwet.service import boards

    state = boards.state(logbook, name)
    if as_json:
        reading = {} if result is None else {"reading": result.as_json()}
        wording.show_json("board", {**board_words.state_json(state), **reading})
    else:
        lines = [*board_words.coat_lines(state.coats[-1]), *board_words.row_lines(state), *board_words.note_lines()]
        wording.show(f"{state.board.name}, coat {len(state.coats)}", lines)
    _complain_of(state)
    complain(WIPE)


@app.command()
def sand(
    name: Name,
    off: Annotated[str, typer.Option(metavar="LENGTH|LOW-HIGH", help="Dry film taken off the last coat, as in 5um or 4-8um.")],
    by: By = None,
    log: Place = None,
) -> None:
    """Log what was sanded off the last coat before the next one."""
    from lastwet.cli import wording
    from lastwet.cli.film import length_or_range
    from lastwet.service import boards

    logbook = _open(log)
    entry = boards.sand(logbook, name, length_or_range(off), _by(by))
    low, high = entry.body["sanded_um"]
    typer.echo(visible(f"log entry {entry.seq}: {wording.length(low) if low == high else wording.span((low, high))} sanded off"))
    _complain_of(boards.state(logbook, name))


@app.command()
def measure(
    name: Name,
    readings: Cured,
    pa2: Pa2 = None,
    iso_19840: Iso19840 = None,
    area: Area = None,
    check: CheckRules = False,
    by: By = None,
    log: Place = None,
    as_json: AsJson = False,
) -> None:
    """Log the measured dry film of a piece, all coats, and what the rules say of it; compare it with what was predicted."""
    from lastwet.cli import wording
    from lastwet.cli.film import measured_json, measured_lines, rule_checks, sheet_checks
    from lastwet.film.measured import shop_ratio, summarise
    from lastwet.service import boards
    from lastwet.units import Bracket, parse_length_um

    logbook, dry_um = _open(log), [parse_length_um(text) for text in readings]
    state = boards.state(logbook, name)
    one = state.coats[0] if len(state.coats) == 1 else None  # the sheet's dry range, and the ratio, are for one coat
    rules = rule_checks(dry_um, pa2, iso_19840, area)
    checks = [*sheet_checks(dry_um, state.board.coating if one else None), *rules]
    if check and not checks:
        raise UsageError("--check needs a rule", "add --pa2 or --iso-19840; the sheet's dry range is for one coat")
    ratio = shop_ratio(one.estimate, dry_um) if one and one.estimate and one.coat.sanded_um == (0, 0) else None
    predicted = Bracket(*state.build.dry_um) if state.build and state.build.dry_um[1] != state.build.dry_um[0] else None
    entry, summary = boards.measure(logbook, name, dry_um, _by(by), rules), summarise(dry_um)
    if as_json:
        wording.show_json("measured", {"board": state.board.name, **measured_json(summary, checks, ratio, predicted)})
    else:
        heading = f"log entry {entry.seq}: {wording.length(summary.mean_um)} mean of {summary.count} dry film readings"
        wording.show(heading, measured_lines(summary, checks, ratio, predicted))
    if check and not all(each.passed for each in checks):
        raise typer.Exit(ExitCode.OUT_OF_SPECIFICATION)


@app.command("list")
def list_(job: Job = None, log: Place = None, as_json: AsJson = False) -> None:
    """List the boards, or those of a job."""
    from lastwet.cli import wording
    from lastwet.service import boards, open_log

    for board in boards.all_boards(open_log(log, to_read=True), job=job):
        if as_json:
            said = {"board": board.name, "job": board.job, "work": board.work, "coating": board.coating.name, "coats": len(board.coats)}
            wording.show_json("board", said)
        else:
            coats, of_job = f"{len(board.coats)} coat{'' if len(board.coats) == 1 else 's'}", f", job {board.job}" if board.job else ""
            typer.echo(visible(f"{board.name:<16} {board.work:<10}  {coats:<8}  {board.coating.name}{of_job}"))


@app.command()
def show(
    name: Name,
    charts: Annotated[Path | None, typer.Option(metavar="DIR", help="Write a run chart and a build chart, SVG, into this folder.")] = None,
    at: Annotated[str | None, typer.Option(metavar="TIME", help="Recoat window and pot life as they are then; default now.")] = None,
    log: Place = None,
    as_json: AsJson = False,
) -> None:
    """Show where a board stands: readings, verdict, advice, build, headroom, recoat window."""
    from lastwet.cli import board_words, wording
    from lastwet.service import boards, open_log
    from lastwet.service.times import begin_of

    state = boards.state(open_log(log, to_read=True), name, None if at is None else begin_of(at))
    if charts:
        _write_charts(state, charts)
    if as_json:
        wording.show_json("board", board_words.state_json(state))
        return
    board = state.board
    lines: list[Line] = [("job", board.job)] if board.job else []
    lines += [("aim", f"{wording.length(board.aim_um)} wet; wet range {wording.span(board.coating.wet_range_um)}")]
    for each in state.coats:
        lines += [("", ""), (f"coat {each.number}", board_words.settings_words(each)), *board_words.coat_lines(each)]
    lines += [("", ""), *board_words.row_lines(state), *board_words.build_lines(state), *board_words.note_lines()]
    wording.show(f"{board.name}, {board.work}, {board.coating.name}", lines)
    _complain_of(state)


def _complain_of(state: BoardState) -> None:
    for caution in state.cautions:
        complain(caution)


def _write_charts(state: BoardState, folder: Path) -> None:
    """Draw the readings in their order, and the build over the coats."""
    from lastwet.film.build import headroom
    from lastwet.job.state import running
    from lastwet.report.charts import Point, Step, build_chart, run_chart
    from lastwet.service import make_folder, write_text

    card, name = state.board.coating, state.board.name
    points = [
        Point(f"{each.number}, spot {spot.name}", spot.wet.low_um, spot.wet.high_um, spot.verdict)
        for each in state.coats
        for spot in each.spots
    ]
    kind = card.maximum_build.of if card.maximum_build else "dry"
    steps = []
    for number, build in enumerate(running(state.coats), 1):
        room, (low, high) = headroom(build, card), build.dry_um if kind == "dry" else build.wet_um
        steps.append(Step(f"coat {number}", low, high, room.fit if room else None))
    make_folder(folder)
    maximum = card.maximum_build.thickness_um if card.maximum_build else None
    write_text(folder / "readings.svg", run_chart(points, "um", card.wet_range_um, f"Wet film readings of {name}"))
    write_text(folder / "build.svg", build_chart(steps, "um", maximum, f"Build of {name}, {kind} film"))


def _quantities(
    fluid_pressure: str | None, air_pressure: str | None, distance: str | None, speed: str | None, flow: str | None, fan: str | None
) -> dict[str, float | None]:
    from lastwet.film.quantity import parse_distance_mm, parse_flow_ml_min, parse_pressure_bar, parse_speed_mm_s

    return {
        "fluid_pressure_bar": parse_pressure_bar(fluid_pressure) if fluid_pressure else None,
        "air_pressure_bar": parse_pressure_bar(air_pressure) if air_pressure else None,
        "distance_mm": parse_distance_mm(distance) if distance else None,
        "speed_mm_s": parse_speed_mm_s(speed) if speed else None,
        "flow_ml_min": parse_flow_ml_min(flow) if flow else None,
        "fan_mm": parse_distance_mm(fan) if fan else None,
    }


def _settings(begin: Settings | None, stated: dict[str, Any], other: list[str]) -> Settings:
    """Put what was stated over what is begun from."""
    from dataclasses import replace

    from lastwet.film.dialin import Settings

    free = dict(_named(text) for text in other)
    known = {key: value for key, value in stated.items() if value is not None}
    begin = begin or Settings()
    return replace(begin, **known, other={**begin.other, **free})


def _named(text: str) -> tuple[str, str]:
    name, sign, value = text.partition("=")
    if not sign or not name.strip() or not value.strip():
        raise UsageError(f"'{text}' is not a setting", "write its name and value, as in --set nozzle=1.3")
    return name.strip(), value.strip()


def _paint(
    thinner: float | None,
    viscosity: str | None,
    material: str | None,
    batch: str | None,
    mix: str | None,
    mixed_at: str | None,
    applicator: str | None,
    air: str | None,
    humidity: float | None,
    surface: str | None,
) -> Paint:
    from lastwet.film.quantity import parse_duration_s, parse_temperature_c, share_of
    from lastwet.job.board import Paint
    from lastwet.service.times import begin_of

    seconds, _, cup = (viscosity or "").partition(",")
    return Paint(
        thinner=thinner,
        viscosity_s=parse_duration_s(seconds) if viscosity else None,
        cup=cup.strip() or None,
        material_c=parse_temperature_c(material) if material else None,
        batch=batch,
        mix=mix,
        mixed_at=begin_of(mixed_at) if mixed_at else None,
        applicator=applicator,
        air_c=parse_temperature_c(air) if air else None,
        surface_c=parse_temperature_c(surface) if surface else None,
        humidity=None if humidity is None else share_of(humidity, "a relative humidity"),
    )


def _open(log: Path | None) -> Logbook:
    from lastwet.service import open_log

    return open_log(log, to_read=True)


def _begun(log: Path | None) -> Logbook:
    from lastwet.service import open_log

    return open_log(log)


def _by(by: str | None) -> str:
    from lastwet.service import user_name

    return by or user_name()
