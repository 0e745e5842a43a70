"""Coating cards: what the shipped ones say, and one clear sentence for each fault."""

from __future__ import annotations

import datetime as dt
import textwrap
from pathlib import Path

import pytest

from lastwet.errors import UsageError
from lastwet.film.coating import Coating, MaximumBuild, Source, card_text, cautions, coating_names, load_coating, parse_coating
from lastwet.units import MIL_UM

# The figures are common practice, no source.
CARD = """
name = "Invented varnish"
volume_solids = "46 +/- 2 %"
wet_range = "4-6 mil"
dry_range = "1.8-2.8 mil"
[maximum_build]
thickness = "8 mil"
of = "dry"
[thinner]
max = "5 %"
of = "mixed paint by volume"
[source]
sheet = "Invented sheet 7"
date = 2026-01-31
"""


@pytest.fixture
def card(tmp_path: Path) -> Path:
    path = tmp_path / "varnish.toml"
    path.write_text(CARD)
    return path


def test_a_card_is_read_into_fractions_and_micrometres(card: Path) -> None:
    assert load_coating(card) == Coating(
        name="Invented varnish",
        volume_solids=0.46,
        volume_solids_tolerance=0.02,
        wet_range_um=(4 * MIL_UM, 6 * MIL_UM),
        dry_range_um=(1.8 * MIL_UM, 2.8 * MIL_UM),
        maximum_build=MaximumBuild(8 * MIL_UM, "dry"),
        thinner_max=0.05,
        source=Source("Invented sheet 7", dt.date(2026, 1, 31)),
    )


def test_what_a_sheet_does_not_say_stays_unknown(card: Path) -> None:
    card.write_text('name = "Bare"\nvolume_solids = "30%"\nwet_range = "90-125um"\nsource = {sheet = "s", date = 2026-01-31}\n')
    bare = load_coating(str(card))
    assert (bare.volume_solids_tolerance, bare.dry_range_um, bare.maximum_build, bare.thinner_max) == (0, None, None, None)


@pytest.mark.parametrize("name", coating_names())
def test_shipped_cards_are_invented_and_agree_with_themselves(name: str) -> None:
    coating = load_coating(name)
    assert "invented" in coating.name and "invented" in coating.source.sheet
    assert coating.dry_range_um is not None
    dried = [limit * coating.volume_solids for limit in coating.wet_range_um]
    assert dried == pytest.approx(list(coating.dry_range_um), rel=0.05)


def test_at_least_two_cards_ship() -> None:
    assert len(coating_names()) >= 2


FAULTS = [  # what is replaced, by what, the key named, a word of the cure
    ('name = "Invented varnish"', "", "name", "name ="),
    ('name = "Invented varnish"', 'name = ""', "name", "name ="),
    ('"46 +/- 2 %"', "46", "volume_solids", '"34 %"'),
    ('"46 +/- 2 %"', '"46"', "volume_solids", "sign"),
    ('"46 +/- 2 %"', '"146 %"', "volume_solids", "at most 100 %"),
    ('"46 +/- 2 %"', '"0 %"', "volume_solids", "more than 0 %"),
    ('"46 +/- 2 %"', '"2 +/- 2 %"', "volume_solids", "tolerance"),
    ('"4-6 mil"', '"6-4 mil"', "wet_range", "lower limit first"),
    ('"4-6 mil"', '"4-6"', "wet_range", "unit"),
    ('"4-6 mil"', '"4-6 furlong"', "wet_range", "mil"),
    ('"1.8-2.8 mil"', '"2 mil"', "dry_range", "low-high"),
    ('"8 mil"', '"8"', "maximum_build.thickness", "unit"),
    ('"8 mil"', '"1 mil"', "maximum_build", "data sheet"),
    ('"8 mil"', '"0 mil"', "maximum_build.thickness", "leave [maximum_build] out"),
    ('dry_range = "1.8-2.8 mil"\n[maximum_build]\nthickness = "8 mil"', '[maximum_build]\nthickness = "1 mil"', "maximum_build", "units"),
    ('of = "dry"', 'of = "cured"', "maximum_build.of", 'of = "dry" or of = "wet"'),
    ('of = "dry"', "", "maximum_build.of", 'of = "dry"'),
    ('"5 %"', '"5 +/- 1 %"', "thinner.max", "10 %"),
    ('"mixed paint by volume"', '"base by weight"', "thinner.of", "mixed paint by volume"),
    ('dry_range = "1.8-2.8 mil"', 'dry_range = "1.8-7 mil"', "dry_range", "units"),
    ('dry_range = "1.8-2.8 mil"', 'mix_ratio = "4:1"', "mix_ratio", "by volume"),
    ('dry_range = "1.8-2.8 mil"', 'mix_ratio = "4:1 by weight"', "mix_ratio", "weights do not serve"),
    ('dry_range = "1.8-2.8 mil"', 'mix_ratio = "4:0 by volume"', "mix_ratio", "leave out"),
    ('dry_range = "1.8-2.8 mil"', 'pot_life = "4"', "pot_life", "unit"),
    ('dry_range = "1.8-2.8 mil"', 'pot_life = "0 h"', "pot_life", "unit"),
    ('dry_range = "1.8-2.8 mil"', 'recoat_window = "6 h - 45 min"', "recoat_window", "earlier time first"),
    ('dry_range = "1.8-2.8 mil"', 'recoat_window = "6 h"', "recoat_window", "from and until"),
    ("2026-01-31", '"2026-01-31"', "source.date", "without quotes"),
    ("2026-01-31", "2026-01-31T00:00:00", "source.date", "without quotes"),
    ("[source]", "[sauce]", "sauce", "source"),
    ("[source]\n", 'colour = "red"\n[source]\n', "thinner.colour", "max"),
    ('[source]\nsheet = "Invented sheet 7"\ndate = 2026-01-31', "", "source", "[source]"),
]


@pytest.mark.parametrize(("old", "new", "key", "cure"), FAULTS)
def test_a_fault_names_file_key_and_cure(card: Path, old: str, new: str, key: str, cure: str) -> None:
    assert old in CARD
    card.write_text(CARD.replace(old, new))
    with pytest.raises(UsageError) as refused:
        load_coating(card)
    assert refused.value.message.startswith(f"{card}: {key} ")
    assert cure in refused.value.cure
    assert "\n" not in str(refused.value)


def test_a_table_given_as_a_text_is_refused(card: Path) -> None:
    card.write_text('name = "x"\nvolume_solids = "46 %"\nwet_range = "4-6 mil"\nsource = "a sheet"\n')
    with pytest.raises(UsageError, match=r"source is not a table: write \[source\]"):
        load_coating(card)


MORE = 'mix_ratio = "3:1 by volume"\npot_life = "4 h"\nrecoat_window = "{window}"\n[maximum_build]'


@pytest.mark.parametrize(
    ("window", "seconds"),
    [("45 min - 24 h", (2700, 86400)), ("1-6 h", (3600, 21600)), ("2 h to 7 d", (7200, 604800)), ("2 h or more", (7200, None))],
)
def test_mix_pot_life_and_recoat_window_are_read(card: Path, window: str, seconds: tuple[float, float | None]) -> None:
    card.write_text(CARD.replace("[maximum_build]", MORE.format(window=window)))
    coating = load_coating(card)
    assert (coating.mix_parts, coating.pot_life_s, coating.recoat_window_s) == ((3, 1), 4 * 3600, seconds)


def test_thinner_counted_of_the_base_is_less_of_the_mixed_paint(card: Path) -> None:
    """3 parts of base and 1 of hardener: 8 % of the base is 6 % of the mix."""
    text = CARD.replace("[maximum_build]", MORE.format(window="1-6 h")).replace('"5 %"', '"8 %"').replace("mixed paint by", "base by")
    assert parse_coating(text, "card").thinner_max == pytest.approx(0.06)
    one_component = CARD.replace("mixed paint by", "base by")
    assert parse_coating(one_component, "card").thinner_max == 0.05


@pytest.mark.parametrize("name", coating_names())
def test_shipped_cards_give_no_cause_for_caution(name: str) -> None:
    assert list(cautions(load_coating(name))) == []


def test_solids_by_weight_are_suspected_where_the_wet_range_dries_above_the_dry_range() -> None:
    """Weight solids are usually higher than volume solids (R. Bryze, wood-finishing educator)."""
    (caution,) = cautions(parse_coating(CARD.replace("46 +/- 2 %", "60 %"), "card"))
    assert "were solids by weight typed in?" in caution


@pytest.mark.parametrize(("dry", "told"), [("1.8-2.8", False), ("1.84-2.2", True), ("2.3-3.5", True), ("2.2-3.3", False)])
def test_ranges_that_disagree_by_more_than_a_fifth_are_told(dry: str, told: bool) -> None:
    """4 to 6 mil at 46 % dry to 1.84 to 2.76 mil."""
    found = list(cautions(parse_coating(CARD.replace("1.8-2.8", dry), "card")))
    assert bool(found) is told
    assert not any("weight" in caution for caution in found)


def test_a_card_without_a_dry_range_has_nothing_to_disagree() -> None:
    assert list(cautions(parse_coating(CARD.replace('dry_range = "1.8-2.8 mil"', ""), "card"))) == []


def test_a_card_that_is_written_reads_back() -> None:
    text = card_text(
        name='A "quoted" \\ name\x7f',
        volume_solids="46 +/- 2 %",
        wet_range="4-6 mil",
        sheet="Sheet\n7",
        sheet_date=dt.date(2026, 1, 31),
        dry_range="1.8-2.8 mil",
        mix_ratio="4:1 by volume",
        pot_life="4 h",
        recoat_window="1-6 h",
        maximum_build=("8 mil", "dry"),
        thinner_max=("10 %", "base by volume"),
    )
    assert parse_coating(text, "card") == Coating(
        name='A "quoted" \\ name\x7f',
        volume_solids=0.46,
        volume_solids_tolerance=0.02,
        wet_range_um=(4 * MIL_UM, 6 * MIL_UM),
        dry_range_um=(1.8 * MIL_UM, 2.8 * MIL_UM),
        maximum_build=MaximumBuild(8 * MIL_UM, "dry"),
        thinner_max=0.1 * (4 / 5),
        source=Source("Sheet\n7", dt.date(2026, 1, 31)),
        thinner_of="base by volume",
        mix_parts=(4, 1),
        pot_life_s=4 * 3600,
        recoat_window_s=(3600, 6 * 3600),
    )


@pytest.mark.parametrize(("maximum", "good"), [("0 um", False), ("10 um", False), ("28 um", False), ("29 um", True), ("140 um", True)])
def test_without_a_dry_range_a_maximum_is_held_against_what_the_thinnest_coat_leaves(maximum: str, good: bool) -> None:
    """By hand: 90 um wet at 34 - 1 % leave 29.7 um; 5 % are left to the rounding of the sheet, so 28.2 um are the least."""
    text = f"""
name = "Invented varnish"
volume_solids = "34 +/- 1 %"
wet_range = "90-125 um"
maximum_build = {{thickness = "{maximum}", of = "dry"}}
source = {{sheet = "Invented sheet 7", date = 2026-01-31}}
"""
    if good:
        assert parse_coating(text, "card").maximum_build is not None
    else:
        with pytest.raises(UsageError, match="maximum_build"):
            parse_coating(text, "card")


def test_a_wet_maximum_is_compared_with_the_wet_range(card: Path) -> None:
    card.write_text(CARD.replace('"8 mil"\nof = "dry"', '"3 mil"\nof = "wet"'))
    with pytest.raises(UsageError, match="less than the lower limit of wet_range"):
        load_coating(card)


@pytest.mark.parametrize("content", [b"name = ", b"\xff\xfe", b"name = 'a'\nname = 'b'"])
def test_what_is_not_toml_is_refused(card: Path, content: bytes) -> None:
    card.write_bytes(content)
    with pytest.raises(UsageError, match="is not a TOML file"):
        load_coating(card)


def test_an_unknown_name_lists_the_known_ones() -> None:
    with pytest.raises(UsageError) as refused:
        load_coating("no such card")
    assert all(name in refused.value.cure for name in coating_names())


def test_a_folder_is_no_card(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="cannot be read"):
        load_coating(tmp_path)


def test_the_card_in_the_docs_loads(card: Path) -> None:
    docs = (Path(__file__).parents[2] / "docs" / "film.md").read_text("utf-8")
    card.write_text(textwrap.dedent(docs[docs.index('    name = "Nosuch') : docs.index("Every quantity carries")]))
    assert load_coating(card).maximum_build == MaximumBuild(140, "dry")
