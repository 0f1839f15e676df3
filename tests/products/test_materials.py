"""Cards of sealer, foam, filler and primer: what is accepted, and how each fault is told."""

import re
from importlib.resources import files

import pytest
from typer.testing import CliRunner

from assistant.cli import app
from assistant.products.card import CardError, parse_card
from assistant.products.shelf import demo_cards
from assistant.trade.cure import time_at_temperature
from assistant.units import Q

DEMO = files("assistant.products") / "demo"
TEXTS = {
    kind: (DEMO / f"{name}.toml").read_text(encoding="utf-8")
    for kind, name in {
        "sealer": "seam-sealer",
        "one part": "tube-sealer",
        "foam": "cavity-foam",
        "filler": "light-filler",
        "primer": "build-primer",
        "weld primer": "weld-primer",
    }.items()
}


def card(name):
    return parse_card(TEXTS[name], "card", "card.toml")


def faults_of(text):
    with pytest.raises(CardError) as error:
        parse_card(text, "card", "card.toml")
    return [str(fault) for fault in error.value.faults]


def test_what_the_cards_hold():
    assert card("sealer").package.mix_ratio == [1, 1]
    assert card("one part").package.mix_ratio is None
    assert card("one part").package.trade_package.usable.m_as("mL") == pytest.approx(288)
    assert card("foam").expansion == [6, 8]
    assert card("filler").hardener_share == pytest.approx(0.02)
    assert card("filler").package.density == Q(1.1, "g/mL")
    assert card("primer").film_per_coat == (Q(1.5, "thou"), Q(2, "thou"))
    assert card("weld primer").weld_through
    assert card("weld primer").rows("work") == ()
    assert [len(card("primer").rows(stage)) for stage in ("work", "flash", "sand")] == [3, 3, 3]


def test_edges_that_are_fine():
    for name, old, new in (
        ("primer", '["1.5 mil", "2 mil"]', '["2 mils", "2 mils"]'),
        ("filler", "1.1 g/mL", "0.6 g/mL"),
        ("foam", "[6, 8]", "[1, 60]"),
        ("foam", "[6, 8]", "[6, 6]"),
        ("filler", "hardener_limits = [1.5, 2.5]", "hardener_limits = [2, 2]"),
        ("filler", '"0.25 inch"', '"0.125 inch"'),
        ("sealer", 'work = ["12 min", "15 min"]', 'work = ["45 min", "60 min"]'),
        ("sealer", 'paint = ["45 min", "60 min"]', 'paint = ["75 min", "90 min"]'),
        ("sealer", 'temperature = "70 degF"', 'temperature = "61.2 degF"'),
    ):
        text = TEXTS[name].replace(old, new, 1)
        if "work" in old:
            text = text.replace('work = ["18 min", "22 min"]', 'work = ["75 min", "90 min"]')
        assert text != TEXTS[name]
        parse_card(text, "card", "card.toml")


def test_every_stage_of_every_demonstration_card_can_be_read():
    for found in demo_cards():
        if found.kind == "adhesive":
            continue
        for stage in found.STAGES:
            rows = [(at, times.high) for at, times in found.rows(stage)]
            if rows:
                time_at_temperature(rows, Q(70, "degF"), found.cure_limits)


PAINT = 'paint = ["45 min", "60 min"]'

# card, text replaced (first occurrence), by what, key at fault, what is said
FAULTS = [
    ("sealer", 'widest_bead = "0.5 inch"', 'widest_bead = "13 mL"', "widest_bead", '"6 mm"'),
    ("sealer", 'widest_bead = "0.5 inch"', 'widest_bead = "0 mm"', "widest_bead", "above zero"),
    ("sealer", 'widest_bead = "0.5 inch"\n', "", "widest_bead", "is missing"),
    ("sealer", "weld_through = false", 'weld_through = "no"', "weld_through", "valid boolean"),
    ("sealer", 'cartridge = "200 mL"', 'cartridge = "15 mL"', "package.cartridge", "hold more"),
    ("sealer", 'tip_life = "8 min"\n', "", "package.tip_life", "is missing"),
    ("sealer", "mix_ratio = [1, 1]\n", "", "package.mix_ratio", "is missing"),
    ("sealer", PAINT, 'paint = "10 min"', "times[2].paint", "than work"),
    ("sealer", PAINT, 'paint = "91 min"', "times[2].paint", "at 60 °F"),
    ("sealer", PAINT, 'sand = "60 min"', "times[2].sand", "not a key"),
    ("sealer", 'temperature = "70 degF"', 'temperature = "60.5 degF"', "times[2].temperature",
     "another row"),
    ("sealer", 'temperature = "60 degF"', 'temperature = "59 degF"', "times[1].temperature",
     "outside the card's limits"),
    ("sealer", 'highest = "95 degF"', 'highest = "55 degF"', "limits.highest", "above the lowest"),
    ("sealer", 'highest = "95 degF"', 'highest = "60 degF"', "limits.highest", "above the lowest"),
    ("sealer", PAINT, 'paint = ["11 min", "60 min"]', "times[2].paint", "than work"),
    ("sealer", PAINT, 'paint = ["13 min", "14 min"]', "times[2].paint", "than work"),
    ("sealer", PAINT, 'paint = ["45 min", "91 min"]', "times[2].paint", "at 60 °F"),
    ("sealer", PAINT, 'paint = ["76 min", "85 min"]', "times[2].paint", "at 60 °F"),
    ("foam", "expansion = [6, 8]", "expansion = [8, 6]", "expansion", "from 1 to 60 times"),
    ("foam", "expansion = [6, 8]", "expansion = [0.5, 6]", "expansion", "from 1 to 60 times"),
    ("foam", "expansion = [6, 8]", "expansion = [6, 61]", "expansion", "from 1 to 60 times"),
    ("foam", "expansion = [6, 8]", "expansion = [6]", "expansion", "at least 2"),
    ("foam", 'trim = ["12 min", "15 min"]', 'trim = "30 s"', "times[2].trim", "than work"),
    ("filler", 'density = "1.1 g/mL"', 'density = "1.1 g"', "package.density", '"1.1 g/mL"'),
    ("filler", 'density = "1.1 g/mL"', 'density = "0 g/mL"', "package.density", "above zero"),
    ("filler", "mix_ratio = [100, 2]", "mix_ratio = [100, 3]", "package.hardener_limits",
     "around that of mix_ratio"),
    ("filler", "mix_ratio = [100, 2]", "mix_ratio = [100, 1]", "package.hardener_limits",
     "around that of mix_ratio"),
    ("filler", "mix_ratio = [100, 2]", "mix_ratio = [100, 2, 1]", "package.mix_ratio", "at most 2"),
    ("filler", 'thickest_lift = "0.125 inch"', 'thickest_lift = "7 mm"', "thickest_lift",
     "thicker"),
    ("filler", "waste = 0.20", "waste = 20", "package.waste", "less than or equal to 0.5"),
    ("filler", 'sand = ["18 min", "25 min"]', 'sand = "3 min"', "times[2].sand", "than work"),
    ("primer", "solids = 0.42", "solids = 42", "solids", "less than or equal to 1"),
    ("primer", "solids = 0.42", "solids = 0.0", "solids", "greater than 0"),
    ("primer", '["1.5 mil", "2 mil"]', '["2 mil", "1.5 mil"]', "film_per_coat", "is more than"),
    ("primer", '["1.5 mil", "2 mil"]', '"2 mil"', "film_per_coat", "two figures"),
    ("primer", '["1.5 mil", "2 mil"]', '["2 mil"]', "film_per_coat", "two figures"),
    ("primer", "coats = 2", "coats = 11", "coats", "less than or equal to 10"),
    ("primer", "coats = 2", "coats = 0", "coats", "greater than or equal to 1"),
    ("primer", 'work = ["45 min", "60 min"]\n', "", "times[2].work", "in some rows"),
    ("primer", 'flash = ["7 min", "10 min"]', 'flash = "4 h"', "times[2].sand", "than flash"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "old", "new", "where", "why"), FAULTS)
def test_a_fault_is_told_with_file_line_and_key(name, old, new, where, why):
    text = TEXTS[name].replace(old, new, 1)
    assert text != TEXTS[name]
    told = faults_of(text)
    matching = [line for line in told if f": {where}: " in line and why in line]
    assert matching, told
    key = where.split(".")[-1].split("[")[0]
    line = next((n for n, row in enumerate(text.splitlines(), 1) if row == new), None)
    if line and new.startswith(f"{key} ="):
        assert matching[0].startswith(f"card.toml, line {line}: ")
    elif "." in where:
        assert ", line " in matching[0]


@pytest.mark.parametrize("name", TEXTS)
def test_what_is_missing_is_told_with_a_line_too(name):
    lines = TEXTS[name].splitlines()
    kind = next(n for n, line in enumerate(lines, 1) if line.startswith("kind"))
    tables = {line.strip("[]") for line in lines if line.startswith("[")}
    header = ""
    for number, line in enumerate(lines):
        if line.startswith("["):
            header = line.strip("[]")
        key = line.split(" = ")[0]
        if " = " not in line or line.startswith(("#", "kind", "default", "cautions")):
            continue
        try:
            parse_card("\n".join(lines[:number] + lines[number + 1 :]), "card", "card.toml")
        except CardError as error:
            assert all(fault.line for fault in error.faults), error
        else:
            assert key in ("invented", "note", "work", "mix_ratio"), (header, key)
    for table in tables:
        kept = "\n".join(lines)
        kept = re.sub(rf"(?ms)^\[+{table}\]+$.*?(?=^\[|\Z)", "", kept)
        with pytest.raises(CardError) as error:
            parse_card(kept, "card", "card.toml")
        assert [(fault.where, fault.line) for fault in error.value.faults] == [(table, kind)]


def test_check_and_show_on_the_command_line(tmp_path):
    good, bad = tmp_path / "good.toml", tmp_path / "bad.toml"
    good.write_text(TEXTS["foam"], encoding="utf-8")
    bad.write_text(TEXTS["primer"].replace("solids = 0.42", "solids = 42"), encoding="utf-8")
    line = TEXTS["primer"].splitlines().index("solids = 0.42") + 1
    run = CliRunner().invoke(app, ["products", "check", str(good), str(bad)])
    assert run.exit_code == 2
    assert "good (Two-part cavity foam)" in run.output
    assert f"bad.toml, line {line}: solids: " in run.output
    for found in demo_cards():
        shown = CliRunner().invoke(app, ["products", "show", found.key])
        assert shown.exit_code == 0
        assert found.name in shown.output
    assert "20 min" in CliRunner().invoke(app, ["products", "show", "cavity-foam"]).output
