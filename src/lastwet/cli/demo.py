"""`lastwet demo`: everything once, on the sample photos that the package ships."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

NOTE = (
    "Sample photos of invented gauges, paints and data sheets. The dry film is predicted, not measured. "
    "A limit of the wet range within 2 % of a tooth's value counts as that value."
)


def demo(
    folder: Annotated[Path, typer.Argument(metavar="[DIR]", help="Where to write the log, the pictures and the summary.")] = Path("demo"),
) -> None:
    """Read the sample photos, log them in a scratch logbook, and write pictures and a summary."""
    from lastwet import service
    from lastwet.cli.text import result_text
    from lastwet.report.summary import Row, render_summary
    from lastwet.words.result import facts, heading

    logbook, rows = service.open_log(folder / "logbook"), []
    for sample in service.samples():
        result = service.read_sample(sample)
        kept = service.keep(result, logbook, service.user_name(), folder)
        for fault in kept.faults:
            raise fault
        typer.echo(result_text(result, kept))
        rows.append(Row(heading(result), tuple(facts(result, kept)), kept.picture.read_bytes() if kept.picture else None))
    page = folder / "summary.html"
    service.write_text(page, render_summary("lastwet demo", NOTE, rows))
    typer.echo(f"\nsummary: {page}\nlogbook: {logbook.folder} (see it with: lastwet log list --log {logbook.folder})")
