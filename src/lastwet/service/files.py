"""The user's files: folders, texts and pictures that are written where the user says."""

from __future__ import annotations

from pathlib import Path

from lastwet.errors import NotWritten, UnusablePhoto
from lastwet.result import Result

PICTURE_ENDING = "-overlay.jpg"
"""Ending of the annotated pictures, which are no photos to be read."""


def save_picture(result: Result, folder: Path) -> Path | None:
    """Draw what was seen and write it into `folder`, named after the photo; None where there is no photo to draw on."""
    if result.photo is None or isinstance(result.outcome, UnusablePhoto):
        return None
    from lastwet.reading.overlay import draw_overlay, save_overlay  # here, as only a picture needs drawing and fonts

    make_folder(folder)
    path = folder / f"{Path(result.name).stem or 'photo'}-{result.photo.sha256[:8]}{PICTURE_ENDING}"  # two photos may share a name
    save_overlay(path, draw_overlay(result.photo, result.outcome, result.task.gauge))
    return path


def make_folder(folder: Path) -> None:
    """Make a folder for results; raises `NotWritten`."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise NotWritten(f"the folder {folder} cannot be made ({error.strerror})", "name a folder that you may write to") from error


def write_text(path: Path, text: str) -> None:
    """Write a text file; raises `NotWritten`."""
    try:
        path.write_text(text, "utf-8")
    except OSError as error:
        raise NotWritten(f"{path} could not be written ({error.strerror})", "name a folder that you may write to") from error
