"""Files that are on the disk when the call returns.

A new file survives a crash only when its bytes are flushed and then its name: `fsync` of the file, then of the folder that
holds the name (Pillai et al., "All File Systems Are Not Created Equal", OSDI 2014).
"""

from __future__ import annotations

import os
from pathlib import Path
from uuid import uuid4

PART = ".part"
"""Ending of a file that is being written; one that stays behind tells of a killed process."""


def make_folder(folder: Path) -> None:
    """Make `folder` and its parents, durably; one that exists is left as it is."""
    if folder.is_dir():
        return
    make_folder(folder.parent)
    folder.mkdir(exist_ok=True)
    sync_folder(folder.parent)


def write_once(path: Path, data: bytes) -> None:
    """Write `data` to the new file `path`, read-only; raises `FileExistsError` where there is one, and leaves that untouched."""
    part = path.parent / f".{uuid4().hex}{PART}"
    try:
        # Mode 0444 leaves this descriptor writable and lets the umask take away more.
        with os.fdopen(os.open(part, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o444), "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        _name(part, path)
    finally:
        part.unlink(missing_ok=True)
    sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Flush the names in `folder`."""
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _name(part: Path, path: Path) -> None:
    """Give the finished file its name, never over another one."""
    try:
        path.hardlink_to(part)
    except FileExistsError:
        raise
    except OSError:  # no hard links on this file system: rename would overwrite, so look first
        if path.exists():
            raise FileExistsError(path) from None
        part.rename(path)
