"""The append-only logbook: a folder of evidence that outlives this program. docs/logbook.md says what it promises."""
