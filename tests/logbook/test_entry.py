"""Canonical JSON and the chain of hashes, against RFC 8785, `json` and the FIPS 180-4 known answers."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lastwet.logbook.entry import SCHEMA, Entry, canonical_json, chain_hash, seal, unseal

# RFC 8785, 3.2.2 (the sample object) and 3.2.3 (the sorted one, less the key outside the basic plane: see `canonical_json`)
RFC_8785 = [
    (
        r"""{"numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
        "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/", "literals": [null, true, false]}""",
        r"""{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"string":"€$\u000f\nA'B\"\\\\\"/"}""",
    ),
    (
        r"""{"\u20ac": "Euro Sign", "\r": "Carriage Return", "\ufb33": "Hebrew Letter Dalet With Dagesh", "1": "One",
        "\u0080": "Control", "\u00f6": "Latin Small Letter O With Diaeresis"}""",
        '{"\\r":"Carriage Return","1":"One","\u0080":"Control","ö":"Latin Small Letter O With Diaeresis",'
        '"€":"Euro Sign","\ufb33":"Hebrew Letter Dalet With Dagesh"}',
    ),
]

# NIST examples for FIPS 180-4, SHA-256: one block, two blocks, and the empty message of its test vectors
FIPS_180_4 = [
    ("abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
    (
        "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
        "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
    ),
    ("", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
]

values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
    max_leaves=12,
)


@pytest.mark.parametrize(("given_text", "canonical"), RFC_8785)
def test_canonical_json_of_rfc_8785(given_text: str, canonical: str) -> None:
    assert canonical_json(json.loads(given_text)) == canonical


@given(values)
def test_canonical_json_loses_nothing_and_is_the_same_the_second_time(value: object) -> None:
    text = canonical_json(value)
    assert json.loads(text) == value
    assert canonical_json(json.loads(text)) == text
    assert "\n" not in text


@given(st.dictionaries(st.text(), st.integers(), min_size=2))
def test_canonical_json_does_not_depend_on_the_order_of_keys(value: dict[str, int]) -> None:
    assert canonical_json(dict(reversed(value.items()))) == canonical_json(value)


def test_the_odd_name_of_a_file_survives() -> None:
    """A byte that is not UTF-8 reaches Python as a lone surrogate (PEP 383)."""
    name = b"caf\xe9.jpg".decode(errors="surrogateescape")
    text = canonical_json({"photo": name})
    assert text.encode() == rb'{"photo":"caf\udce9.jpg"}'
    assert json.loads(text)["photo"] == name


@pytest.mark.parametrize("number", [math.nan, math.inf])
def test_what_json_cannot_hold_is_refused(number: float) -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        canonical_json({"seconds": number})


@pytest.mark.parametrize(("message", "digest"), FIPS_180_4)
def test_chain_hash_is_sha256_of_previous_and_record(message: str, digest: str) -> None:
    assert chain_hash(None, message) == digest
    assert chain_hash(message[:1], message[1:]) == digest


def test_the_record_holds_all_that_is_hashed(noon: dt.datetime) -> None:
    entry = seal(2, "a" * 64, "reading", {"n": 1}, recorded_at=noon, photo_sha256="b" * 64)
    assert entry.record == (
        '{"body":{"n":1},"kind":"reading","photo_sha256":"' + "b" * 64 + '",'
        '"recorded_at":"2026-03-04T12:00:00.000000+01:00","schema":"lastwet.entry/1","seq":2}'
    )
    assert entry.hash == hashlib.sha256(("a" * 64 + entry.record).encode()).hexdigest()
    assert unseal(entry.seq, entry.previous, entry.record, entry.hash) == entry


def test_further_photos_are_part_of_what_is_hashed(noon: dt.datetime) -> None:
    one, two, three = ("b" * 64, "c" * 64, "d" * 64)
    entry = seal(1, None, "reading", {}, recorded_at=noon, photo_sha256=one, more_photos=[two, three])
    assert (entry.photos, json.loads(entry.record)["more_photos"]) == ((one, two, three), [two, three])
    assert unseal(1, None, entry.record, entry.hash) == entry
    assert seal(1, None, "reading", {}, recorded_at=noon, photo_sha256=one, more_photos=[two]).hash != entry.hash
    assert "more_photos" not in seal(1, None, "reading", {}, recorded_at=noon, photo_sha256=one).record


def test_an_entry_keeps_plain_data_only(noon: dt.datetime) -> None:
    """What `seal` returns is what a later reading of the log returns: a tuple has become a list."""
    assert seal(1, None, "note", {"range_um": (90.0, 125.0)}, recorded_at=noon).body == {"range_um": [90.0, 125.0]}


def test_a_time_without_offset_is_refused(noon: dt.datetime) -> None:
    with pytest.raises(ValueError, match="offset"):
        seal(1, None, "note", {}, recorded_at=noon.replace(tzinfo=None))


def forged(**changes: object) -> tuple[int, str | None, str, str]:
    """A row whose hash fits, with other fields than an entry has."""
    fields = {"body": {}, "kind": "note", "photo_sha256": None, "recorded_at": "2026-03-04T12:00:00+01:00", "schema": SCHEMA, "seq": 1}
    record = canonical_json(fields | changes)
    return 1, None, record, chain_hash(None, record)


def test_a_forgery_without_changes_is_an_entry() -> None:
    assert isinstance(unseal(*forged()), Entry)


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"seq": 2}, "written as entry 2"),
        ({"seq": "1"}, "layout"),
        ({"schema": "lastwet.entry/9"}, "layout"),
        ({"body": []}, "layout"),
        ({"kind": None}, "layout"),
        ({"photo_sha256": "../log.sqlite3"}, "layout"),
        ({"recorded_at": "noon"}, "isoformat"),
        ({"more_photos": ["../log.sqlite3"]}, "layout"),
        ({"more_photos": "b" * 64}, "layout"),
        ({"more_photos": None}, "layout"),
    ],
)
def test_a_row_that_is_no_entry_is_refused(changes: dict[str, object], reason: str) -> None:
    with pytest.raises(ValueError, match=reason):
        unseal(*forged(**changes))


@pytest.mark.parametrize("row", [(1, None, "{}", "0" * 64), (1, None, None, None), (1, 5, "{}", "x"), (1, None, b"{}", "x")])
def test_a_damaged_row_is_refused(row: tuple[int, object, object, object]) -> None:
    with pytest.raises(ValueError, match="hash|text"):
        unseal(*row)
