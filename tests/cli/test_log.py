"""Confirming, correcting, noting, checking, copying and handing out, over real pipes."""

from __future__ import annotations

import csv
import json
import shutil
import sqlite3
from contextlib import closing
from io import StringIO
from pathlib import Path

import pytest

from lastwet.logbook.store import Logbook
from tests.conftest import ROOT, Run
from tests.fake_reader import GLARE, photo_bytes


@pytest.fixture
def log(run: Run, tmp_path: Path, gauge_file: Path) -> Logbook:
    """A log of a reading inside, one above, and a refusal; by Ann."""
    for name, painted in (("a.jpg", 5), ("b.jpg", 6), ("c.jpg", GLARE)):
        (tmp_path / name).write_bytes(photo_bytes(painted))
    options = ("--gauge", gauge_file, "--side", "fine", "--solids", "50", "--wet-range", "140-175um", "--by", "Ann")
    run("read", "a.jpg", "b.jpg", "c.jpg", *options)
    return Logbook(tmp_path / "log")


# --- confirming


def test_agreeing_is_a_confirmation(run: Run, log: Logbook) -> None:
    done = run("confirm", "1", "--last-wet", "5", "--by", "Ben")
    assert (done.returncode, done.stdout) == (0, "log entry 4: entry 1 confirmed by Ben\n")
    entry = log.entry(4)
    assert entry.kind == "confirmation"
    assert entry.body == {
        "concerns": 1, "confirms": 1, "side": "fine", "last_wet": 5, "wet": {"low_um": 140.0, "high_um": 175.0}, "by": "Ben", "reason": None
    }  # fmt: skip
    assert "[confirmed by Ben]" in run("log", "list").stdout.splitlines()[0]
    assert (
        "stands     140 to 175 um (5.51 to 6.89 mil) wet, side fine, read by the machine, confirmed by Ben"
        in run("log", "show", "1").stdout
    )


def test_reading_otherwise_is_a_correction_with_a_reason(run: Run, log: Logbook) -> None:
    refused = run("confirm", "2", "--last-wet", "5", "--by", "Ben")
    assert (refused.returncode, refused.stdout) == (2, "")
    assert "say why, by --reason" in refused.stderr
    assert len(list(log.all_entries())) == 3
    done = run("confirm", "2", "--last-wet", "5", "--by", "Ben", "--reason", "a drop on the sixth tooth", "--json")
    said = json.loads(done.stdout)
    assert said["body"]["reading"]["wet"] == {"low_um": 140.0, "high_um": 175.0}
    assert said["body"]["reading"]["dry"] == {"low_um": 70.0, "high_um": 87.5}
    assert (said["body"]["reading"]["method"], said["body"]["reading"]["verdict"], said["body"]["reading"]["confidence"]) == (
        "eye",
        "inside",
        None,
    )
    assert (said["kind"], said["body"]["supersedes"], said["body"]["by"], said["body"]["reason"]) == (
        "correction", 2, "Ben", "a drop on the sixth tooth"
    )  # fmt: skip
    stands = json.loads(run("log", "show", "2", "--json").stdout)
    assert stands["body"]["reading"]["last_wet"] == 6
    assert (stands["stands"]["entry"], stands["stands"]["reading"]["last_wet"]) == (4, 5)


def test_a_side_alone_can_be_corrected(run: Run, log: Logbook) -> None:
    run("confirm", "1", "--last-wet", "3", "--side", "coarse", "--by", "Ben", "--reason", "the coarse side was pressed")
    reading = log.entry(4).body["reading"]
    assert (reading["side"], reading["wet"]) == ("coarse", {"low_um": 370.0, "high_um": 440.0})


def test_a_refusal_is_read_by_eye_without_another_reason(run: Run, log: Logbook) -> None:
    assert run("confirm", "3", "--last-wet", "5", "--by", "Ben").returncode == 0
    shown = run("log", "show", "3").stdout
    assert "refused, glare" in shown
    assert "stands     140 to 175 um (5.51 to 6.89 mil) wet, side fine, read by eye, not confirmed" in shown
    assert [json.loads(line)["seq"] for line in run("log", "list", "--outcome", "refused", "--json").stdout.splitlines()] == []
    assert [json.loads(line)["seq"] for line in run("log", "list", "--outcome", "read", "--json").stdout.splitlines()] == [1, 2, 3]


@pytest.mark.usefixtures("log")
def test_a_correction_can_be_confirmed_and_corrected_again(run: Run) -> None:
    run("confirm", "2", "--last-wet", "5", "--by", "Ben", "--reason", "x")
    assert run("confirm", "4", "--last-wet", "5", "--by", "Cy").stdout == "log entry 5: entry 2 confirmed by Cy\n"
    run("confirm", "2", "--last-wet", "4", "--by", "Dee", "--reason", "y")
    assert "corrected by entry 6: 110 to 140 um (4.33 to 5.51 mil) wet]" in run("log", "list").stdout.splitlines()[1]


@pytest.mark.usefixtures("log")
@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["confirm", "1", "--last-wet", "8", "--by", "Ben"], "could be wet: count the wet teeth from the lowest: 0 to 7"),
        (["confirm", "1", "--last-wet", "5", "--by", "  "], "a name is needed"),
        (["confirm", "1", "--last-wet", "5"], "Missing option '--by'"),
        (["confirm", "9", "--last-wet", "5", "--by", "Ben"], "there is no entry 9"),
        (["confirm", "1", "--last-wet", "1", "--side", "x", "--by", "Ben", "--reason", "x"], "has no side 'x'"),
        (["log", "void", "1", "--by", "Ben", "--reason", " "], "a void needs a reason"),
        (["log", "note", " "], "the note is empty"),
        (["log", "attach", "nosuch.pdf"], "nosuch.pdf cannot be read"),
        (["log", "note", "x", "--entry", "9"], "there is no entry 9"),
        (["log", "list", "--since", "noon"], "'noon' is not a time"),
        (["log", "list", "--kind", "foo"], "there is no kind of entry 'foo': name one of reading, confirmation"),
        (["log", "list", "--verdict", "foo"], "Invalid value for '--verdict'"),
        (["log", "list", "--outcome", "foo"], "Invalid value for '--outcome'"),
        (["log", "export", "out", "--job", "nosuch"], "no entries were found for what was asked"),
    ],
)  # fmt: skip
def test_wrong_usage_is_one_sentence_and_adds_nothing(run: Run, tmp_path: Path, arguments: list[str], sentence: str) -> None:
    done = run(*arguments)
    assert (done.returncode, done.stdout) == (2, "")
    assert sentence in done.stderr
    assert len(list(Logbook(tmp_path / "log").all_entries())) == 3


@pytest.mark.usefixtures("log")
def test_a_void_takes_out_of_use_what_stays_in_the_log(run: Run) -> None:
    assert run("log", "void", "1", "--by", "Ben", "--reason", "the gauge slipped").returncode == 0
    assert "[void since entry 4]" in run("log", "list").stdout.splitlines()[0]
    run("log", "note", "for nothing", "--by", "Ben")
    run("log", "void", "5", "--by", "Ben", "--reason", "x")
    assert "for nothing  [void since entry 6]" in run("log", "list").stdout
    assert "entry 1 is void since entry 4" in run("confirm", "1", "--last-wet", "5", "--by", "Ben").stderr
    assert "entry 1 is void since entry 4" in run("log", "void", "1", "--by", "Ben", "--reason", "x").stderr
    assert "a void stays" in run("log", "void", "4", "--by", "Ben", "--reason", "x").stderr
    assert run("log", "list", "--verdict", "inside").stdout == ""


def test_notes_and_attachments_are_kept(run: Run, log: Logbook, tmp_path: Path) -> None:
    (tmp_path / "sheet.pdf").write_bytes(b"%PDF-1.7 invented")
    assert run("log", "note", "door 3, inside", "--entry", "1", "--by", "Ben").returncode == 0
    assert run("log", "attach", "sheet.pdf", "--title", "data sheet", "--by", "Ben").returncode == 0
    assert log.entry(4).body == {"concerns": 1, "text": "door 3, inside", "by": "Ben"}
    attached = log.entry(5)
    assert log.photos.path(attached.photo_sha256 or "").read_bytes() == b"%PDF-1.7 invented"
    assert "data sheet by Ben: sheet.pdf" in run("log", "list").stdout
    assert "note on entry 1 by Ben: door 3, inside" in run("log", "show", "1").stdout


def test_kinds_of_others_are_shown_with_what_they_hold(run: Run, log: Logbook) -> None:
    log.append("sanding", {"by": "Ben", "grit": 320}, recorded_at=log.entry(1).recorded_at)
    assert "  by         Ben\n  grit       320\n" in run("log", "show", "4").stdout
    assert "sanding by Ben" in run("log", "list").stdout


# --- by eye


def test_a_reading_by_eye_keeps_the_photo_and_says_so(run: Run, tmp_path: Path, gauge_file: Path) -> None:
    (tmp_path / "c.jpg").write_bytes(photo_bytes(GLARE))
    options = ("--gauge", gauge_file, "--side", "fine", "--last-wet", "4", "--by", "Ann", "--wet-range", "110-140um")
    done = run("read", "c.jpg", *options, "--json")
    found = json.loads(done.stdout)
    assert (done.returncode, found["method"], found["last_wet"], found["confidence"], found["teeth"]) == (0, "eye", 4, None, [])
    assert (found["wet"], found["verdict"]) == ({"low_um": 110.0, "high_um": 140.0}, "inside")
    log = Logbook(tmp_path / "log")
    assert log.photos.path(log.entry(1).photo_sha256 or "").read_bytes() == photo_bytes(GLARE)
    assert log.entry(1).body["software"]["reader_settings"] is None
    assert "[by eye]" in run("log", "list").stdout
    words = run("read", "c.jpg", *options).stdout
    assert "by eye" in words
    assert "confidence" not in words


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["a.jpg", "--last-wet", "4"], "a reading by eye needs a name: say who read it, by --by"),
        (["a.jpg", "b.jpg", "--last-wet", "4", "--by", "Ann"], "a reading by eye takes one photo"),
        (["a.jpg", "--last-wet", "4", "--by", "Ann"], "needs the side that was pressed"),
        (["a.jpg", "--last-wet", "8", "--side", "fine", "--by", "Ann"], "side fine has no 8 teeth"),
    ],
)
def test_a_reading_by_eye_needs_one_photo_a_side_and_a_name(
    run: Run, tmp_path: Path, gauge_file: Path, arguments: list[str], sentence: str
) -> None:
    for name in ("a.jpg", "b.jpg"):
        (tmp_path / name).write_bytes(photo_bytes(5))
    done = run("read", "--gauge", gauge_file, *arguments)
    assert (done.returncode, done.stdout) == (2, "")
    assert sentence in done.stderr
    assert not (tmp_path / "log").exists()


# --- finding


@pytest.mark.usefixtures("log")
@pytest.mark.parametrize(
    ("options", "seqs"),
    [
        (["--verdict", "Above"], [2]),
        (["--by", "ann", "--gauge", "BENCH STRIP"], [1, 2, 3]),
        (["--by", "Ben"], []),
        (["--kind", "reading", "--limit", "2"], [2, 3]),
        (["--until", "2020-01-01"], []),
        (["--since", "2020-01-01", "--until", "2999-12-31"], [1, 2, 3]),
    ],
)
def test_the_list_is_filtered(run: Run, options: list[str], seqs: list[int]) -> None:
    assert [json.loads(line)["seq"] for line in run("log", "list", "--json", *options).stdout.splitlines()] == seqs


def test_an_empty_list_says_so_beside_the_data(run: Run, log: Logbook) -> None:
    for more in ((), ("--json",)):
        done = run("log", "list", "--kind", "sanding", *more)
        assert (done.returncode, done.stdout, done.stderr) == (0, "", "no entry matches\n")
    log.append("weather", {"by": "Ben"}, recorded_at=log.entry(1).recorded_at)
    for kind in ("weather", "READING"):
        assert run("log", "list", "--kind", kind, "--limit", "1").stderr == ""
    assert run("log", "list", "--kind", "weather", "--job", "nosuch").stderr == "no entry matches\n"


def test_nothing_is_exported_where_nothing_was_found(run: Run, log: Logbook, tmp_path: Path) -> None:
    assert run("log", "export", "out", "--job", "nosuch").returncode == 2
    assert not (tmp_path / "out").exists()


# --- checking, copying, handing out


def edit(log: Logbook) -> None:
    with closing(sqlite3.connect(log.folder / "log.sqlite3")) as connection:
        connection.execute("DROP TRIGGER entry_is_never_changed")
        connection.execute("UPDATE entry SET record = replace(record, '140.0', '110.0') WHERE seq = 2")
        connection.commit()


def test_an_intact_log_passes_and_a_broken_one_names_the_first_entry(run: Run, log: Logbook) -> None:
    head = log.entry(3).hash
    done = run("log", "verify")
    assert (done.returncode, done.stderr) == (0, "")
    assert f"as it was written; 3 entries, newest hash {head}" in done.stdout
    assert json.loads(run("log", "verify", "--json").stdout) == {
        "log": str(log.folder), "intact": True, "findings": [], "entries": 3, "head": head
    }  # fmt: skip
    edit(log)
    log.photos.path(log_photo(log, 3)).unlink()
    done = run("log", "verify")
    assert done.returncode == 6
    assert "lastwet: entry 2 is the first that is not what was written: keep the folder as it is" in done.stderr
    assert "broken  the photo of entry 3 is missing" in done.stdout
    found = json.loads(run("log", "verify", "--json").stdout)
    assert {finding["seq"] for finding in found["findings"] if finding["seq"]} == {2, 3}
    assert not found["intact"]


def test_a_log_that_was_written_anew_is_found_by_a_hash_that_was_written_down(run: Run, log: Logbook, tmp_path: Path) -> None:
    """Nothing in the new log is wrong in itself."""
    seal = log.entry(3).hash
    assert run("log", "verify", "--expect", f"3:{seal}").returncode == 0
    assert run("log", "verify", "--expect", f"3:{seal[:16].upper()}").returncode == 0
    forged = Logbook(tmp_path / "forged")
    for entry in log.all_entries():
        body = json.loads(entry.record)["body"] | {"by": "Nobody"}
        forged.append(entry.kind, body, log.photos.path(entry.photo_sha256 or "").read_bytes(), recorded_at=entry.recorded_at)
    assert run("log", "verify", "--log", "forged").returncode == 0
    for expectation in (f"3:{seal}", f"4:{seal}"):
        done = run("log", "verify", "--log", "forged", "--expect", expectation)
        assert done.returncode == 6
        assert f"entry {expectation[0]} is not the one whose hash was written down" in done.stdout


@pytest.mark.usefixtures("log")
@pytest.mark.parametrize("expectation", ["3", "3:", "x:" + "a" * 16, "3:" + "a" * 15, "3:" + "g" * 16, "3:" + "a" * 65])
def test_what_is_no_hash_is_wrong_usage(run: Run, expectation: str) -> None:
    done = run("log", "verify", "--expect", expectation)
    assert (done.returncode, "is not an entry and its hash" in done.stderr) == (2, True)


def test_every_command_takes_a_log_of_the_first_version(run: Run, tmp_path: Path) -> None:
    shutil.copytree(ROOT / "tests" / "logbook" / "first_version", tmp_path / "log")
    listed = run("log", "list")
    assert (listed.returncode, len(listed.stdout.splitlines())) == (0, 5)
    for command in (
        *(["log", "show", str(seq)] for seq in range(1, 6)),
        ["log", "verify"], ["log", "recheck", "--jobs", "1"], ["log", "backup", "copy"], ["log", "export", "out"],
        ["log", "export", "redacted", "--redact"], ["confirm", "1", "--last-wet", "4", "--by", "Ben"],
        ["confirm", "2", "--last-wet", "4", "--by", "Ben"],
        ["log", "void", "4", "--by", "Ben", "--reason", "x"], ["report", "-o", "r.html"], ["report", "-o", "r.pdf"], ["log", "verify"],
    ):  # fmt: skip
        done = run(*command)
        assert (done.returncode, done.stderr) == (0, ""), command


def log_photo(log: Logbook, seq: int) -> str:
    return log.entry(seq).photo_sha256 or ""


def test_a_check_without_a_log_is_wrong_usage(run: Run) -> None:
    assert run("log", "verify").returncode == 2


def test_a_backup_is_whole_is_brought_up_to_date_and_comes_back(run: Run, log: Logbook, tmp_path: Path) -> None:
    done = run("log", "backup", "copy")
    assert (done.returncode, done.stderr) == (0, "")
    assert "3 entries" in done.stdout
    run("confirm", "1", "--last-wet", "5", "--by", "Ben")
    assert "4 entries" in run("log", "backup", "copy").stdout
    kept = [entry.hash for entry in log.all_entries()]
    shutil.rmtree(log.folder)
    assert run("log", "restore", "copy").returncode == 0
    assert [entry.hash for entry in Logbook(log.folder).all_entries()] == kept
    assert run("log", "verify").returncode == 0
    refused = run("log", "restore", "copy")
    assert (refused.returncode, "is not empty" in refused.stderr) == (7, True)


def test_a_damaged_backup_is_not_restored(run: Run, log: Logbook, tmp_path: Path) -> None:
    run("log", "backup", "copy")
    edit(Logbook(tmp_path / "copy"))
    done = run("log", "restore", "copy", "--log", "again")
    assert (done.returncode, "is damaged" in done.stderr) == (6, True)
    assert not (tmp_path / "again").exists()


def test_an_export_has_a_table_the_entries_and_the_photos(run: Run, log: Logbook, tmp_path: Path) -> None:
    run("confirm", "2", "--last-wet", "5", "--by", "=cmd()", "--reason", "+1")
    done = run("log", "export", "out")
    assert (done.returncode, done.stdout) == (0, "3 readings, 4 entries and 3 photos in out\n")
    rows = list(csv.DictReader(StringIO((tmp_path / "out" / "readings.csv").read_text("utf-8"), newline="")))
    assert [(row["entry"], row["status"], row["wet_low_um"], row["verdict"]) for row in rows] == [
        ("1", "read", "140.0", "inside"), ("2", "read", "140.0", "inside"), ("3", "refused", "", "")
    ]  # fmt: skip
    assert (rows[1]["corrected_by"], rows[1]["correction_reason"], rows[1]["method"]) == ("'=cmd()", "'+1", "eye")
    lines = [json.loads(line) for line in (tmp_path / "out" / "entries.jsonl").read_text().splitlines()]
    assert [line["hash"] for line in lines] == [entry.hash for entry in log.all_entries()]
    photo = tmp_path / "out" / "photos" / f"{log_photo(log, 1)}.jpg"
    assert photo.read_bytes() == photo_bytes(5)
    assert run("log", "export", "out").returncode == 7


@pytest.mark.parametrize(
    ("thinner", "cell", "told"),
    [([], "", "no thinner stated"), (["--thinner", "0"], "0.0", "0 % thinner"), (["--thinner", "8"], "0.08", "8 % thinner")],
)
def test_thinner_that_was_not_stated_is_no_zero(
    run: Run, tmp_path: Path, gauge_file: Path, thinner: list[str], cell: str, told: str
) -> None:
    (tmp_path / "a.jpg").write_bytes(photo_bytes(5))
    run("read", "a.jpg", "--gauge", gauge_file, "--side", "fine", "--solids", "50", *thinner)
    run("log", "export", "out")
    (row,) = csv.DictReader(StringIO((tmp_path / "out" / "readings.csv").read_text("utf-8"), newline=""))
    assert row["thinner_fraction"] == cell
    film = json.loads((tmp_path / "out" / "entries.jsonl").read_text())["body"]["film"]
    assert (film["thinner"], film["thinner_stated"]) == (float(cell) if cell else None, bool(cell))
    assert f"50 % volume solids, {told}" in run("log", "show", "1").stdout
    assert run("log", "recheck").stdout.startswith("1 the same")


def test_a_redacted_export_names_nobody_and_has_no_photo(run: Run, log: Logbook, tmp_path: Path) -> None:
    run("confirm", "2", "--last-wet", "5", "--by", "Benedict", "--reason", "said Ann")
    run("log", "note", "call Benedict", "--by", "Benedict")
    log.append("coat", {"applicator": "Dee", "spots": [{"place": "Elm Street"}]}, recorded_at=log.entry(1).recorded_at)
    assert run("log", "export", "out", "--redact").returncode == 0
    files = [path for path in (tmp_path / "out").rglob("*") if path.is_file()]
    assert sorted(path.name for path in files) == ["entries.jsonl", "readings.csv"]
    told = "".join(path.read_text("utf-8") for path in files)
    for name in ("Ann", "Benedict", "Dee", "Elm", ".jpg", str(tmp_path)):
        assert name not in told
    lines = [json.loads(line) for line in (tmp_path / "out" / "entries.jsonl").read_text().splitlines()]
    assert lines[0]["body"]["reading"]["wet"] == {"low_um": 140.0, "high_um": 175.0}
    assert [line["hash"] for line in lines] == [entry.hash for entry in log.all_entries()]


def test_both_redacted_files_leave_out_the_names_of_gauge_and_coating(run: Run, log: Logbook, tmp_path: Path) -> None:
    body = json.loads(log.entry(1).record)["body"]
    body["film"]["coating"] = "Elm Street red"
    log.append("reading", body, photo_bytes(5), recorded_at=log.entry(1).recorded_at)
    run("log", "export", "out", "--redact")
    told = [(tmp_path / "out" / name).read_text("utf-8") for name in ("readings.csv", "entries.jsonl")]
    assert ["Elm Street" in text or "bench strip" in text for text in told] == [False, False]
    assert ["fine" in text for text in told] == [True, True]
    run("log", "export", "all")
    assert "bench strip,fine" in (tmp_path / "all" / "readings.csv").read_text("utf-8")


def test_recheck_reads_no_photo_that_was_changed(run: Run, log: Logbook) -> None:
    kept = log.photos.path(log_photo(log, 3))
    kept.chmod(0o600)
    kept.write_bytes(photo_bytes(6))
    done = run("log", "recheck", "--jobs", "1")
    said = done.stdout.splitlines()
    assert done.returncode == 6
    assert said[0].split() == ["3", "its", "photo", "is", "missing", "or", "changed"]
    assert "1 without their photo" in said[-1]


def test_recheck_lists_what_would_differ_and_changes_nothing(run: Run, log: Logbook) -> None:
    """The second was logged as the reader of another day read it; the fourth has lost its photo."""
    body = json.loads(log.entry(1).record)["body"]
    body["reading"] |= {"last_wet": 4, "wet": {"low_um": 110.0, "high_um": 140.0}}
    log.append("reading", body, photo_bytes(5), recorded_at=log.entry(1).recorded_at)
    log.photos.path(log_photo(log, 3)).unlink()
    before = [entry.hash for entry in log.all_entries()]
    done = run("log", "recheck", "--jobs", "2")
    assert (done.returncode, done.stderr) == (6, "")
    assert done.stdout.splitlines() == [
        "     3  its photo is missing or changed",
        "     4  then 110 to 140 um (4.33 to 5.51 mil) wet, side fine; now 140 to 175 um (5.51 to 6.89 mil) wet, side fine",
        "2 the same, 1 would differ, 1 without their photo; nothing was changed",
    ]
    assert [entry.hash for entry in log.all_entries()] == before
    said = [json.loads(line) for line in run("log", "recheck", "--json", "--jobs", "1").stdout.splitlines()]
    assert [line["differs"] for line in said] == [False, False, False, True]


def test_recheck_says_what_was_not_read_again(run: Run, log: Logbook, tmp_path: Path, gauge_file: Path) -> None:
    (tmp_path / "d.jpg").write_bytes(b"no photo")
    options = ("--gauge", gauge_file, "--side", "fine", "--by", "Ann")
    run("read", "d.jpg", *options)
    run("read", "a.jpg", "--last-wet", "5", *options)
    run("read", "b.jpg", "--last-wet", "6", *options)
    run("board", "new", "door", "--coating", "nosuch-satin")
    run("board", "coat", "door")
    run("board", "add", "door", "--wet", "110-140um", "--by", "Ann")
    assert len(list(log.all_entries())) == 9
    said = "3 the same, 0 would differ, 0 without their photo; not read again: 2 by eye, 1 typed in, 1 unusable; nothing was changed\n"
    done = run("log", "recheck", "--jobs", "1")
    assert (done.returncode, done.stdout, done.stderr) == (0, said, "")
    assert run("log", "recheck", "--jobs", "1", "--json").stderr == said
