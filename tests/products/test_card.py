"""Product cards: what is accepted, and how each fault is told."""

import tomllib
from importlib.resources import files

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.products.card import (
    KINDS,
    LARGEST_CARD_BYTES,
    CardError,
    line_of,
    parse_card,
    read_card,
)
from assistant.products.shelf import demo_cards
from assistant.trade.cure import STAGES, stage_time
from assistant.units import Q

DEMO = files("assistant.products") / "demo"
FAST = (DEMO / "fast.toml").read_text(encoding="utf-8")
CLAMP = 'clamp = ["30 min", "40 min"]'
LONG = (DEMO / "long-open.toml").read_text(encoding="utf-8")


def faults_of(text, key="card", file="card.toml"):
    with pytest.raises(CardError) as error:
        parse_card(text, key, file)
    return [str(fault) for fault in error.value.faults]


def line_with(text, part, nth=1):
    found = [n for n, line in enumerate(text.splitlines(), 1) if part in line]
    return found[nth - 1]


def test_the_demonstration_cards_say_they_are_invented():
    cards = demo_cards()
    assert {card.kind for card in cards} == set(KINDS)
    for card in cards:
        assert card.invented
        assert "nvented" in card.note
    defaults = [card for card in cards if card.default]
    assert sorted(card.kind for card in defaults) == sorted(KINDS)
    assert "long-open" in [card.key for card in defaults]


def test_the_long_open_card_holds_one_temperature():
    card = parse_card(LONG, "long-open", "long-open.toml")
    (row,) = card.times
    assert row.temperature == Q(70, "degF")
    assert (row.work.low, row.work.high) == (Q(40, "min"), Q(50, "min"))
    assert (row.clamp.low, row.clamp.high) == (Q(1.5, "hour"), Q(2, "hour"))
    assert card.limits.lowest <= Q(55, "degF") <= card.limits.highest
    assert card.spoken_name == "long open"


def test_the_fast_card_holds_a_table_that_spans_its_limits():
    card = parse_card(FAST, "fast", "fast.toml")
    assert len(card.times) >= 3
    temperatures = [row.temperature for row in card.times]
    assert min(temperatures) == card.limits.lowest
    assert max(temperatures) == card.limits.highest
    for stage in STAGES:
        stage_time(card.rows(stage), stage, Q(20, "degC"), card.cure_limits)


def test_a_single_figure_is_a_range_of_itself():
    text = LONG.replace('clamp = ["1.5 h", "2 h"]', 'clamp = "2 h"')
    card = parse_card(text, "card", "card.toml")
    assert card.times[0].clamp.low == card.times[0].clamp.high == Q(2, "hour")


@pytest.mark.parametrize(
    ("old", "new", "where", "why"),
    [
        ('kind = "adhesive"', 'kind = "soup"', "kind", "of adhesive, filler, foam, primer, sealer"),
        ('kind = "adhesive"', 'key = "a"\nkind = "adhesive"', "key", "its file name"),
        ('name = "Fast', 'nam = "Fast', "name", "is missing"),
        ('name = "Fast', 'colour = "x"\nname = "Fast', "colour", "not a key of such a card"),
        ('opened_life = "1 month"', 'opened_life = "10 months"', "opened_life", "the shelf life"),
        ("weld_through = true", 'weld_through = "no"', "weld_through", "valid boolean"),
        ("invented = true", "invented = 1", "invented", "valid boolean"),
        ('"fast", ', '"Fast 2", ', "spoken[1]", "lower-case words"),
        ('["fast", "fast set", "quick"]', "[]", "spoken", "at least 1"),
        ('"fast set"', '"fast"', "spoken", "holds a name twice"),
        ('cartridge = "50 mL"', "cartridge = 50", "package.cartridge", '"220 mL"'),
        ('cartridge = "50 mL"', 'cartridge = "50 g"', "package.cartridge", '"220 mL"'),
        ('cartridge = "50 mL"', 'cartridge = "50 bananas"', "package.cartridge", '"220 mL"'),
        ('cartridge = "50 mL"', 'cartridge = "-50 mL"', "package.cartridge", "zero or more"),
        ('cartridge = "50 mL"', 'cartridge = "7 mL"', "package.cartridge", "must hold more"),
        ("mix_ratio = [1, 1]", "mix_ratio = [1]", "package.mix_ratio", "at least 2"),
        ("mix_ratio = [1, 1]", "mix_ratio = [1, 0]", "package.mix_ratio[2]", "greater than 0"),
        ('tip_life = "2 min"', 'tip_life = "0 min"', "package.tip_life", "above zero"),
        ('tip_life = "2 min"', 'tip_life = "13 min"', "package.tip_life", "longest work time"),
        ("waste = 0.10", "waste = 10", "package.waste", "less than or equal to 0.5"),
        ("waste = 0.10", "waste = nan", "package.waste", "finite"),
        ('lowest = "60 degF"', 'lowest = "60 F"', "limits.lowest", '"70 degF"'),
        ('lowest = "60 degF"', 'lowest = "-500 degF"', "limits.lowest", "absolute zero"),
        ('highest = "95 degF"', 'highest = "55 degF"', "limits.highest", "above the lowest"),
        ('highest = "95 degF"', 'highest = "90 degF"', "times[4].temperature", "limits"),
        ('temperature = "80 degF"', 'temperature = "70.5 degF"', "times[3].temperature", "another"),
        (CLAMP, 'clamp = ["40 min", "30 min"]', "times[2].clamp", "longer"),
        (CLAMP, 'clamp = ["30 min"]', "times[2].clamp", "two figures"),
        (CLAMP, "clamp = 40", "times[2].clamp", "two figures"),
        (CLAMP, 'clamp = "40 mL"', "times[2].clamp", '"40 min"'),
        (CLAMP, 'clamp = "61 min"', "times[2].clamp", "than at 60 °F"),
        (CLAMP, 'clamp = ["51 min", "55 min"]', "times[2].clamp", "than at 60 °F"),
        (CLAMP, 'clamp = ["30 min", "61 min"]', "times[2].clamp", "than at 60 °F"),
        (CLAMP, 'clamp = ["5 min", "40 min"]', "times[2].clamp", "shorter than work"),
        (CLAMP, 'clamp = "5 min"', "times[2].clamp", "shorter than work"),
        ('sand = ["50 min", "60 min"]', 'sand = "39 min"', "times[2].sand", "shorter than clamp"),
        ('full_cure = ["12 h", "16 h"]', 'full_cure = "55 min"', "times[2].full_cure", "than sand"),
    ],
)
def test_a_fault_is_told_with_file_line_and_key(old, new, where, why):
    text = FAST.replace(old, new, 1)
    assert text != FAST
    told = faults_of(text)
    matching = [line for line in told if f": {where}: " in line and why in line]
    assert matching, told
    assert all("\n" not in line for line in told)
    if why != "is missing":
        key = where.split(".")[-1].split("[")[0]
        changed = line_with(text, new.splitlines()[0])
        at = changed if f"{key} =" in text.splitlines()[changed - 1] else None
        if at:
            assert f"card.toml, line {at}: " in matching[0]


def test_lines_of_keys_that_other_tables_have_too():
    assert line_of(FAST, ("times", 2, "clamp")) == line_with(FAST, "clamp =", 3)
    assert line_of(FAST, ("times", 0, "temperature")) == line_with(FAST, "temperature =", 1)
    assert line_of(FAST, ("package", "mix_ratio", 1)) == line_with(FAST, "mix_ratio")
    assert line_of(FAST, ("spoken", 0)) == line_with(FAST, "spoken")
    # a key that is not there: the header it should stand below
    assert line_of(FAST, ("times", 1, "nothing")) == line_with(FAST, "[[times]]", 2)
    assert line_of(FAST, ("package", "nothing")) == line_with(FAST, "[package]")
    assert line_of(FAST, ("nothing",)) is None


def test_every_fault_is_told_at_once():
    text = FAST.replace("waste = 0.10", "waste = 3").replace("weld_through = true\n", "")
    told = faults_of(text)
    assert len(told) == 2
    assert any("weld_through: is missing" in line for line in told)


def test_broken_toml_names_its_line():
    (told,) = faults_of('kind = "adhesive"\nname = \n')
    assert told.startswith("card.toml, line 2: is not TOML")


def test_an_invented_card_says_so():
    text = "\n".join(line for line in FAST.splitlines() if not line.startswith("note"))
    (told,) = faults_of(text)
    assert "note: an invented card needs a note" in told


def test_a_file_name_that_is_no_key_is_told():
    (told,) = faults_of(FAST, key="My Card", file="My Card.toml")
    assert "file name" in told


def test_files_that_are_no_cards(tmp_path):
    for name, content, why in (
        ("binary.toml", b"\xff\xfe\x00", "UTF-8"),
        ("large.toml", b"#" * (LARGEST_CARD_BYTES + 1), "too large"),
        ("deep.toml", b"a = " + b"[" * 20000, "nested"),
    ):
        (tmp_path / name).write_bytes(content)
        with pytest.raises(CardError, match=why):
            read_card(tmp_path / name)
    with pytest.raises(CardError, match=r"none\.toml: cannot be read"):
        read_card(tmp_path / "none.toml")
    (tmp_path / "folder.toml").mkdir()
    with pytest.raises(CardError, match="cannot be read"):
        read_card(tmp_path / "folder.toml")


def test_the_card_on_file_is_the_card_parsed(tmp_path):
    (tmp_path / "mine.toml").write_text(FAST, encoding="utf-8")
    card = read_card(tmp_path / "mine.toml")
    assert (card.key, card.file) == ("mine", "mine.toml")
    assert card.package.cartridge.m_as("mL") == 50


@given(st.integers(0, len(FAST)), st.integers(0, 12), st.text(max_size=4))
def test_a_mutated_card_is_accepted_or_refused_in_lines(at, cut, inserted):
    text = FAST[:at] + inserted + FAST[at + cut :]
    try:
        card = parse_card(text, "card", "card.toml")
    except CardError as error:
        assert error.faults
        assert all("\n" not in str(fault) for fault in error.faults)
    else:
        assert tomllib.loads(text)["name"].strip() == card.name
