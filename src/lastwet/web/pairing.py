"""Who may use the page: a device that came by a one-time link, known by its cookie from then on."""

from __future__ import annotations

import hashlib
import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass
from threading import Lock
from typing import Literal

LINK_S = 600.0
"""A link that nobody used is good for ten minutes."""
IDLE_S = 12 * 3600.0
"""A device that was not used for a shift and a half must be paired again."""
MOST_DEVICES = 30
"""More phones than a shop has; the one that was idle longest makes room."""

Theme = Literal["auto", "bright", "dim"]


@dataclass(slots=True, eq=False)
class Device:
    """A phone or computer that was paired, and what it is in the middle of."""

    by: str
    """Who uses it: the name that entries get."""
    seen: float
    """When it was last used, on the server's monotonic clock."""
    board: int | None = None
    """Entry that began the board on the bench."""
    coating: str | None = None
    """Name of the card of the last board."""
    gauge: str | None = None
    side: str | None = None
    """Id of the side that is pressed next; None to infer it from the teeth."""
    spot: str | None = None
    """Spot of the next dip, where it is the last one again."""
    theme: Theme = "auto"
    unit: Literal["um", "mil"] | None = None
    """The shop's unit; None for the gauge's own."""
    cautioned: bool = False
    """Whether the cautions were shown."""


class Pairing:
    """The link that is open now, and the devices. Only hashes are kept of what a device must know."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = Lock()
        self._devices: dict[str, Device] = {}
        self._token, self._until = "", 0.0

    def token(self) -> str:
        """Return the token of the open link, 128 random bits; a new one where the last was used or is too old."""
        with self._lock:
            if not self._token or self._clock() >= self._until:
                self._token, self._until = secrets.token_urlsafe(16), self._clock() + LINK_S
            return self._token

    def renew(self) -> str:
        """Close the open link and return the token of another one."""
        with self._lock:
            self._token = ""
        return self.token()

    def is_open(self, token: str) -> bool:
        """Tell whether this is the token of the open link."""
        fits = secrets.compare_digest(token.encode(), self._token.encode())
        return bool(self._token) and fits and self._clock() < self._until

    def redeem(self, token: str, by: str) -> str | None:
        """Pair a device and return its cookie; None where the link was used, is too old, or never was. It works once."""
        with self._lock:
            if not self.is_open(token):
                return None
            self._token = ""
            cookie, now = secrets.token_urlsafe(32), self._clock()
            if len(self._devices) >= MOST_DEVICES:
                del self._devices[min(self._devices, key=lambda key: self._devices[key].seen)]
            self._devices[_hash(cookie)] = Device(by, now)
            return cookie

    def device(self, cookie: str | None) -> Device | None:
        """Return the device with this cookie; None for none, or where it was idle too long."""
        if not cookie:
            return None
        with self._lock:
            device, now = self._devices.get(_hash(cookie)), self._clock()
            if device is None:
                return None
            if now - device.seen > IDLE_S:
                del self._devices[_hash(cookie)]
                return None
            device.seen = now
            return device


def _hash(cookie: str) -> str:
    return hashlib.sha256(cookie.encode()).hexdigest()
