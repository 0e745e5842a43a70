"""`python -m lastwet` is `lastwet`."""

from __future__ import annotations

from lastwet.cli import main

main()
