"""`lastwet demo`: everything once, on the sample photos that the package ships."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from lastwet.cli import complain_of_failure
from lastwet.errors import ExitCode


def demo(
    folder: Annotated[Path, typer.Argument(metavar="[DIR]", help="Where to write the log, the pictures and the report.")] = Path("demo"),
) -> None:
    """Read the sample photos, log them in a scratch logbook, and write pictures and a report; exit 1 when that fails or reads none."""
    import datetime as dt

    from lastwet import service
    from lastwet.cli.text import result_text
    from lastwet.result import settled

    logbook, begun = service.open_log(folder / "logbook"), dt.datetime.now().astimezone()
    codes: set[ExitCode] = set()
    for sample in service.samples():
        result = service.read_sample(sample)
        kept = service.keep(result, logbook, service.user_name(), folder)
        for fault in kept.faults:
            raise fault
        typer.echo(result_text(result, kept))
        complain_of_failure(result)
        codes.add(result.exit_code(check=False))
    reports = service.report_samples(logbook, folder, begun)
    typer.echo(f"\nreport: {', '.join(map(str, reports))}")
    typer.echo(f"logbook: {logbook.folder} (see it with: lastwet log list --log {logbook.folder})")
    if codes == {ExitCode.REFUSED}:
        raise service.none_read()
    raise typer.Exit(settled(codes - {ExitCode.REFUSED}))  # one that is refused shows what a refusal looks like
