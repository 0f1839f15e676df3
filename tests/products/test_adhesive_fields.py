"""What an adhesive card may say beyond the first: spacer beads, speed, shelf life, heat."""

from importlib.resources import files

import pytest

from assistant.products.card import CardError, parse_card
from assistant.units import Q

TEXT = (files("assistant.products") / "demo" / "long-open.toml").read_text(encoding="utf-8")


def card(text=TEXT):
    return parse_card(text, "card", "card.toml")


def faults(text):
    with pytest.raises(CardError) as error:
        card(text)
    return [str(fault) for fault in error.value.faults]


def test_the_fields_are_read():
    found = card()
    assert found.spacer_beads == Q(0.010, "inch")
    assert found.laying_speed == Q(0.6, "inch/second")
    assert found.shelf_life == 12
    table = found.cure_table("clamp")
    assert table.heat_limit == Q(180, "degF")
    assert table.rows == ((Q(70, "degF"), Q(2, "hour")),)
    assert table.heated == ((Q(140, "degF"), Q(25, "minute")),)
    assert table.limits == found.cure_limits
    with pytest.raises(ValueError, match="work"):
        found.cure_table("work")


def test_a_card_without_them_is_valid_still():
    old = TEXT[: TEXT.index("# Under heat")]
    for name in ("spacer_beads", "laying_speed", "shelf_life"):
        old = "\n".join(line for line in old.splitlines() if not line.startswith(name))
    found = card(old)
    assert found.spacer_beads is found.laying_speed is found.shelf_life is found.heat is None
    assert found.cure_table("sand").heat_limit is None
    assert found.cure_table("sand").heated == ()


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        ('spacer_beads = "0.010 inch"', 'spacer_beads = "0 inch"', "above zero"),
        ('spacer_beads = "0.010 inch"', 'spacer_beads = "10 mL"', '"0.25 mm"'),
        ('laying_speed = "0.6 inch/second"', 'laying_speed = "0.6 inch"', '"10 mm/s"'),
        ('laying_speed = "0.6 inch/second"', 'laying_speed = "0 mm/s"', "above zero"),
        ('shelf_life = "12 months"', 'shelf_life = "a year"', '"12 months"'),
        ('shelf_life = "12 months"', 'shelf_life = "0 months"', '"12 months"'),
        ('[heat]\nhighest = "180 degF"', "", "come together"),
        ('highest = "180 degF"', 'highest = "90 degF"', "below the highest temperature"),
        ('highest = "180 degF"', 'highest = "120 degF"', "above the heat limit"),
        ('temperature = "140 degF"', 'temperature = "65 degF"', "warmer than the row before"),
        ('sand = ["30 min", "40 min"]', 'sand = ["10 min", "15 min"]', "shorter than clamp"),
        ('clamp = ["20 min", "25 min"]', 'clamp = ["20 min", "4 h"]', "longer than at 70 °F"),
    ],
)
def test_faults_are_told(old, new, why):
    assert old in TEXT
    assert any(why in fault for fault in faults(TEXT.replace(old, new)))


def test_heat_without_its_table_is_told():
    (fault,) = faults(TEXT[: TEXT.index("[[heated]]")])
    assert "come together" in fault
