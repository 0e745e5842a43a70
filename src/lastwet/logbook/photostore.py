"""Original photos: the bytes as received, each in a read-only file named by its SHA-256."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path

from lastwet.errors import EvidenceBroken
from lastwet.logbook.durable import make_folder, sync_folder, write_once
from lastwet.logbook.faults import KEEP, explained


@dataclass(frozen=True, slots=True)
class PhotoStore:
    """A flat folder of photos; one file however often the same photo is logged."""

    folder: Path

    def path(self, sha256: str) -> Path:
        """Return where the photo with this hash lies."""
        return self.folder / sha256

    def put(self, photo: bytes) -> str:
        """Store the bytes so that they survive a crash, and return their SHA-256.

        Raises `NotWritten` when that fails, `EvidenceBroken` when the file of that name holds other bytes.
        """
        sha256 = hashlib.sha256(photo).hexdigest()
        with explained("store the photo", self.folder):
            make_folder(self.folder)
            try:
                write_once(self.path(sha256), photo)
            except FileExistsError:
                self._reuse(sha256)
        return sha256

    def read(self, sha256: str) -> bytes:
        """Return the bytes of a photo; raises `EvidenceBroken` where they are not there any more, or are not what was written."""
        try:
            content = self.path(sha256).read_bytes()
        except OSError as error:
            raise EvidenceBroken(f"the stored photo {self.path(sha256)} cannot be read ({error.strerror})", KEEP) from error
        if hashlib.sha256(content).hexdigest() != sha256:
            raise self._changed(sha256)
        return content

    def digest(self, sha256: str) -> str:
        """Return the SHA-256 of the bytes that the file named `sha256` holds now; raises `OSError` when it cannot be read."""
        with self.path(sha256).open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()

    def _reuse(self, sha256: str) -> None:
        if self.digest(sha256) != sha256:
            raise self._changed(sha256)
        sync_folder(self.folder)  # the process that wrote it may have been killed before it did

    def _changed(self, sha256: str) -> EvidenceBroken:
        return EvidenceBroken(f"the stored photo {self.path(sha256)} is not what was written", KEEP)
