"""What a report tells of a coat's readings, gathered from a log."""

from __future__ import annotations

from pathlib import Path

import pytest

from lastwet.film.coating import load_coating
from lastwet.film.dialin import Settings
from lastwet.gauge import load_gauge
from lastwet.job.board import Paint, Work
from lastwet.logbook.find import Filter
from lastwet.logbook.store import Logbook
from lastwet.service import archive, boards, gather
from lastwet.service.pictures import Picture
from tests.fake_reader import photo_bytes

PHOTOS = {"a": photo_bytes(3), "b": photo_bytes(4)}


def coat_with(logbook: Logbook, *photos: str) -> None:
    """Log a further coat, and a dip of it read by eye from each photo."""
    boards.new_coat(logbook, "a", Settings(), Paint(), "t")
    for photo in photos:
        boards.dip_photo(logbook, "a", [photo], load_gauge("bench-strip"), "fine", boards.Place(), "t", 3, PHOTOS.__getitem__)


def test_a_photo_counts_once_in_a_coat_and_its_pairs_are_worked_out_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Entries 3 to 6 are the first coat's, 8 and 9 the second's, which has its first photo anew."""
    logbook = Logbook(tmp_path / "log")
    boards.new_board(logbook, "a", load_coating("nosuch-clear"), Work.SCRAP, "t")
    coat_with(logbook, "a", "b", "a", "b")
    coat_with(logbook, "a", "b")
    paired: list[int] = []
    monkeypatch.setattr(gather, "same_photo", lambda dips, pair=gather.same_photo: (paired.append(len(dips)), pair(dips))[1])
    chosen = archive.readings(logbook, Filter())
    groups = gather.groups(chosen, [Picture(None, "not drawn")] * len(chosen), gather.shop(logbook, chosen))
    again = {reading.entry: reading.same_as for group in groups for reading in group.readings}
    assert again == {3: None, 4: None, 5: 3, 6: 4, 8: None, 9: None}
    assert sorted(paired) == [2, 4]
