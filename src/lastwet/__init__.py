"""Read a notched wet film gauge from a photo, and keep the evidence."""

__version__ = "0.1.0"
