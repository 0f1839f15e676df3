"""Which cards are at hand, and which is used when none is named."""

from importlib.resources import files

import pytest

from assistant.exchange import Refusal
from assistant.products.shelf import FOLDER_VARIABLE, NoProduct, load_shelf, shop_folder

DEMO = files("assistant.products") / "demo"
FAST = (DEMO / "fast.toml").read_text(encoding="utf-8")
LONG = (DEMO / "long-open.toml").read_text(encoding="utf-8")


def own(text, spoken, default=False):
    """A shop's own card: the demonstration one under another name."""
    lines = [
        line
        for line in text.splitlines()
        if not line.startswith(("spoken", "default", "invented", "note"))
    ]
    flag = "default = true\n" if default else ""
    return f'spoken = ["{spoken}"]\n{flag}' + "\n".join(lines)


@pytest.fixture
def folder(tmp_path):
    def write(**cards):
        for name, text in cards.items():
            (tmp_path / f"{name.replace('_', '-')}.toml").write_text(text, encoding="utf-8")
        return load_shelf(tmp_path)

    return write


def test_a_shop_without_cards_has_the_demonstration_ones(tmp_path):
    shelf = load_shelf(tmp_path / "nowhere")
    assert [card.key for card in shelf.of_kind("adhesive")] == ["fast", "long-open"]
    assert shelf.product(None, "adhesive").key == "long-open"
    assert shelf.product("fast", "adhesive").key == "fast"
    assert shelf.problems == ()
    assert shelf.names("adhesive")["long open"] == "long-open"
    assert shelf.names("adhesive")["fast set"] == "fast"


def test_the_shops_card_stands_before_the_demonstration_card(folder, tmp_path):
    mine = own(FAST, "fast")
    shelf = folder(fast=mine)
    assert shelf.own == {"fast"}
    assert not shelf.product("fast", "adhesive").invented
    assert [card.key for card in shelf.of_kind("adhesive")] == ["fast", "long-open"]
    # nothing is written anywhere
    assert (tmp_path / "fast.toml").read_text(encoding="utf-8") == mine
    assert [path.name for path in tmp_path.iterdir()] == ["fast.toml"]
    assert (DEMO / "fast.toml").read_text(encoding="utf-8") == FAST


def test_the_shops_only_card_is_its_default(folder):
    assert folder(mine=own(FAST, "mine")).default("adhesive").key == "mine"


def test_the_shops_marked_card_is_its_default(folder):
    shelf = folder(aa=own(FAST, "one"), bb=own(LONG, "two", default=True))
    assert shelf.default("adhesive").key == "bb"


def test_several_cards_and_no_default_means_asking(folder):
    shelf = folder(aa=own(FAST, "one"), bb=own(LONG, "two"))
    with pytest.raises(NoProduct, match="one or two"):
        shelf.default("adhesive")


def test_a_spoken_name_means_the_shops_card(folder):
    names = folder(mine=own(LONG, "fast")).names("adhesive")
    assert names["fast"] == "mine"
    assert names["fast set"] == "fast"


def test_a_bad_card_is_left_out_and_listed(folder):
    bad = own(FAST, "bad").replace('clamp = ["30 min", "40 min"]', 'clamp = "forever"')
    shelf = folder(bad=bad, good=own(FAST, "good", default=True))
    assert shelf.own == {"good"}
    (problem,) = shelf.problems
    line = bad.splitlines().index('clamp = "forever"') + 1
    assert problem.startswith(f"bad.toml, line {line}: times[2].clamp: ")
    assert shelf.default("adhesive").key == "good"
    with pytest.raises(NoProduct, match="has a fault"):
        shelf.product("bad", "adhesive")


def test_nothing_steps_into_a_bad_cards_place(folder):
    shelf = folder(long_open="kind = 3", good=own(FAST, "good"))
    # neither the demonstration card of that key ...
    assert "long-open" not in [card.key for card in shelf.cards]
    with pytest.raises(NoProduct, match="has a fault"):
        shelf.product("long-open", "adhesive")
    # ... nor the only card left, as the bad one may have been the default
    with pytest.raises(NoProduct, match="has a fault"):
        shelf.default("adhesive")


def test_only_bad_cards_do_not_bring_the_invented_default_back(folder):
    shelf = folder(mine="kind = 3")
    with pytest.raises(NoProduct, match="has a fault"):
        shelf.default("adhesive")
    assert shelf.product("fast", "adhesive").invented  # when it is named


def test_clashes_between_the_shops_cards_are_told(folder):
    shelf = folder(aa=own(FAST, "same"), bb=own(LONG, "same"))
    assert [card.key for card in shelf.cards if card.key in shelf.own] == ["aa"]
    assert shelf.problems == ("bb.toml: spoken: 'same' is a name of aa.toml too",)
    shelf = folder(aa=own(FAST, "one", default=True), bb=own(LONG, "two", default=True))
    assert shelf.problems == ("bb.toml: default: aa.toml is the default already",)


def test_a_faulty_card_stops_only_its_own_kind(folder, tmp_path):
    foam = (DEMO / "cavity-foam.toml").read_text(encoding="utf-8")
    shelf = folder(cavity_foam=foam.replace("[6, 8]", "[8, 6]"))
    assert shelf.broken == {"cavity-foam": "foam"}
    assert shelf.product(None, "adhesive").key == "long-open"
    assert shelf.product(None, "filler").key == "light-filler"
    for key in (None, "cavity-foam"):
        with pytest.raises(Refusal, match=r"cavity-foam\.toml, line \d+: expansion"):
            shelf.product(key, "foam")
    # of a card whose kind cannot be told any kind may be meant
    shelf = folder(cavity_foam='kind = "soup"\n', other="kind = ")
    assert shelf.broken == {"cavity-foam": None, "other": None}
    for kind in ("adhesive", "foam", "primer"):
        with pytest.raises(Refusal, match="Mend the card"):
            shelf.product(None, kind)


def test_each_problem_is_that_of_its_card(folder):
    shelf = folder(a=FAST.replace("waste = 0.10", "waste = 3"), b=LONG.replace("kind", "kin"))
    with pytest.raises(Refusal, match=r"a\.toml, line \d+: package\.waste"):
        shelf.product("a", "adhesive")
    with pytest.raises(Refusal, match=r"b\.toml.*kind"):
        shelf.product("b", "adhesive")


def test_a_spoken_name_is_of_one_card_whatever_its_kind(folder):
    filler = (DEMO / "light-filler.toml").read_text(encoding="utf-8")
    shelf = folder(a=own(FAST, "mine", default=True), b=own(filler, "mine", default=True))
    assert [card.key for card in shelf.cards if card.key in shelf.own] == ["a"]
    assert any("'mine' is a name of a.toml too" in line for line in shelf.problems)
    # each kind has its own default
    shelf = folder(a=own(FAST, "mine", default=True), b=own(filler, "other", default=True))
    assert shelf.own == {"a", "b"}


def test_a_demonstration_name_gives_way_to_the_shops_card_of_another_kind(folder):
    filler = (DEMO / "light-filler.toml").read_text(encoding="utf-8")
    shelf = folder(mine=own(filler, "fast"))
    assert shelf.names("filler")["fast"] == "mine"
    assert "fast" not in shelf.names("adhesive")
    assert shelf.names("adhesive")["fast set"] == "fast"


def test_unknown_cards_are_refused_with_what_there_is(tmp_path):
    shelf = load_shelf(tmp_path)
    with pytest.raises(Refusal, match="fast, long-open"):
        shelf.product("nothing", "adhesive")
    with pytest.raises(Refusal, match="no paste card"):
        shelf.product(None, "paste")


def test_where_the_shops_folder_is(monkeypatch, tmp_path):
    assert shop_folder({FOLDER_VARIABLE: str(tmp_path)}) == tmp_path
    assert shop_folder({}).parts[-2:] == ("clampcall", "products")
    assert shop_folder({FOLDER_VARIABLE: " "}) == shop_folder({})
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path / "gone"))
    assert "no such folder" in load_shelf().problems[0]
    (tmp_path / "mine.toml").write_text(own(FAST, "mine"), encoding="utf-8")
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path))
    assert load_shelf().own == {"mine"}


def test_a_folder_that_is_a_file_is_told(tmp_path):
    (tmp_path / "file").write_text("x", encoding="utf-8")
    assert "cannot be read" in load_shelf(tmp_path / "file").problems[0]
