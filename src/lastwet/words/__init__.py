"""Wording that the command and the page share: facts in, lines of plain text out."""
