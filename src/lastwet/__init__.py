"""Read a notched wet film gauge from a photo, and keep the evidence."""

from __future__ import annotations

__version__ = "0.1.0"
