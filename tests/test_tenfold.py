"""The larger grammar by which the cost of size is measured."""

from assistant.hearing import jsgf
from assistant.hearing.graph import Graph
from audio_fixtures.tenfold import enlarged, tokens

NUMBERS = "#JSGF V1.0;\ngrammar numbers;\npublic <number> = thirteen | forty;\n"
LAMPS = """#JSGF V1.0;
grammar lamps;
import <numbers.number>;
public <dim> = put the <lamp> {what} at <numbers.number> {to} [please];
public <count> = how many <lamp>+ are there;
<lamp> = lantern | candle;
"""
OTHERS = ["harbour", "feather", "kettle", "orchard", "lantern", "forty", "velvet", "thunder"]


def linked():
    return jsgf.link([jsgf.parse(LAMPS)], jsgf.folder_fetcher(supplied={"numbers": NUMBERS}))


def test_each_copy_says_the_same_about_other_things():
    rules = linked()
    larger = enlarged(rules, 3, OTHERS)
    assert len(larger.roots) == 3 * len(rules.roots) == len(set(larger.roots))
    assert all(larger.rules[name] == item for name, item in rules.rules.items())
    ours, every = Graph(rules), Graph(larger)
    (reading,) = ours.readings("put the lantern at forty please")
    assert every.readings("put the lantern at forty please")[0].tags == reading.tags
    for copy in ("invented1.lamps_", "invented2.lamps_"):
        lantern, candle = tokens(larger.rules[f"{copy}lamp"])
        assert lantern != candle and {lantern, candle} <= {*OTHERS} - {"lantern", "forty"}
        (please,) = {*tokens(larger.rules[f"{copy}dim"])} - {"put", "the", "at"}
        said = f"put the {candle} at thirteen {please}"
        assert not ours.readings(said)
        tags = every.readings(said)[0].tag_map()
        assert tags == {"what": candle, "to": "thirteen"}


def test_own_words_are_dealt_out_anew():
    rules = linked()
    larger = enlarged(rules, 2, None)
    words = {word for name, item in larger.rules.items() if "invented" in name
             for word in tokens(item)}  # fmt: skip
    assert words == {word for name, item in rules.rules.items() if name.startswith("lamps.")
                     for word in tokens(item)}  # fmt: skip


def test_the_same_seed_draws_the_same():
    assert enlarged(linked(), 4, OTHERS, 2) == enlarged(linked(), 4, OTHERS, 2)
    assert enlarged(linked(), 4, OTHERS, 2) != enlarged(linked(), 4, OTHERS, 3)
