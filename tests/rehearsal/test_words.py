"""Speech cut into pieces: figures kept whole, corrections marked (common practice, no source:
how people correct themselves)."""

import pytest

from assistant.rehearsal.words import is_negated, pieces, stem_of, stems


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("Gloves on, then level it.", ["gloves on", "level it"]),
        ("level it and wipe it", ["level it", "wipe it"]),
        ("wait two and a half hours", ["wait two and a half hours"]),
        ("after two. and a half hours", ["after two and a half hours"]),
        ("an hour and a half at 70", ["an hour and a half at seventy"]),
        ("purge 3 inches. Next start the clock", ["purge three inches", "start the clock"]),
        ("", []),
        ("..., ;", []),
    ],
)
def test_pieces(text, wanted):
    assert [piece.text for piece in pieces(text)] == wanted


@pytest.mark.parametrize("marker", ["no wait", "scratch that", "sorry", "I mean", "no", "hold on"])
def test_a_correction_marks_the_next_piece(marker):
    one, two = pieces(f"purge one inch, {marker}, three inches")
    assert (one.taken_back, two.taken_back) == (False, True)
    assert two.text == "three inches"


@pytest.mark.parametrize("text", ["no sliding", "wait for the cure", "no more than two hours"])
def test_what_only_begins_like_a_correction(text):
    (piece,) = pieces(text)
    assert not piece.taken_back and piece.text == text


def test_before_that():
    one, two = pieces("grind it, before that clean it")
    assert (one.before, two.before) == (False, True)


@pytest.mark.parametrize(
    ("text", "negated"),
    [("do not slide it", True), ("slide it", False), ("I skip the coupon", True),
     ("don't forget the coupon", False), ("never lift it", True),
     ("the clamps don't come off for two hours", False),
     ("they don't come off before two hours", False), ("I don't touch it for an hour", False),
     ("I don't leave the clamps on for two hours", True), ("we never wait until it is dry", True),
     ("battery off so that no airbag fires", False), ("so I do not slide it", True)],
)  # fmt: skip
def test_negations(text, negated):
    assert is_negated(text) is negated


@pytest.mark.parametrize(
    ("text", "loose"),
    [
        ("I set a step in the edge, otherwise it stands proud", [False, True]),
        ("I warm it, because cold it is stiff", [False, True]),
        ("I weld it wet, within six minutes", [False, True]),
        ("I weld it, I watch for fire", [False, False]),
        ("Within six minutes I weld it", [False]),  # nothing stands before it
        ("I blow it off, sincerely", [False, False]),
    ],
)
def test_a_reason_goes_on_with_what_was_told(text, loose):
    assert [piece.loose for piece in pieces(text)] == loose


def test_stems():
    assert stems("level the plungers".split()) == stems("leveling the plunger".split())
    assert stems("at seventy degrees for two hours".split()) == ()
    # "degrees" alone is "degrease" misheard
    assert stems(["degrees"]) == (stem_of("degrees"),)
    assert stems("screw on the nozzle".split()) == stems("screw on the tip".split())
