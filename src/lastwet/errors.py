"""What can go wrong, as the person at the bench meets it.

    LastwetError                 carries an exit code and a cure
    |- UsageError            2   a wrong option, gauge, coating or quantity
    |- UnusablePhoto         3   the file is not a usable image
    |- EvidenceBroken        6   the log or a photo failed verification
    `- NotWritten            7   a result could not be written

A photo that is readable as an image but not as a gauge is no error: see `lastwet.reading.outcome.Refusal`.
"""

from __future__ import annotations

from enum import IntEnum


class ExitCode(IntEnum):
    """Exit codes of the command; with several, the first that applies in the order 7, 3, 4, 5, 0."""

    DONE = 0
    UNEXPECTED = 1
    USAGE = 2
    UNUSABLE = 3
    REFUSED = 4
    OUT_OF_SPECIFICATION = 5
    EVIDENCE_BROKEN = 6
    NOT_WRITTEN = 7
    INTERRUPTED = 130
    UNREAD = 141
    """Whatever took the output closed its pipe; a shell says so of a program that the signal SIGPIPE (13) ended, as 128 + 13."""


class LastwetError(Exception):
    """An expected failure: what happened, and what to do next."""

    exit_code = ExitCode.UNEXPECTED

    def __init__(self, message: str, cure: str = "") -> None:
        super().__init__(message)
        self.message = message
        """What happened, to which file."""
        self.cure = cure
        """What to do next, as an instruction."""

    def __str__(self) -> str:
        return f"{self.message}: {self.cure}" if self.cure else self.message


class UsageError(LastwetError):
    """A wrong option, gauge file, coating card or quantity."""

    exit_code = ExitCode.USAGE


class UnusablePhoto(LastwetError):
    """The file cannot be used as a photo; `code` is one of not-an-image, too-large, damaged."""

    exit_code = ExitCode.UNUSABLE

    def __init__(self, code: str, message: str, cure: str) -> None:
        super().__init__(message, cure)
        self.code = code

    def __reduce__(self) -> tuple[type[UnusablePhoto], tuple[str, str, str]]:
        """Rebuild it from all it was made of, where it comes from another process."""
        return type(self), (self.code, self.message, self.cure)


class EvidenceBroken(LastwetError):
    """The log or a stored photo is not what was written."""

    exit_code = ExitCode.EVIDENCE_BROKEN


class NotWritten(LastwetError):
    """A log entry, picture or report could not be written."""

    exit_code = ExitCode.NOT_WRITTEN
