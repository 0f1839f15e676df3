"""The JSGF reader, against the W3C note "JSpeech Grammar Format" (5 June 2000; the examples
marked "note" are quoted from its text, from memory) and against the library pyjsgf."""

import random

import jsgf as pyjsgf
import pytest

from assistant.hearing import jsgf
from assistant.hearing.graph import Graph
from assistant.hearing.sampling import sample

HEADER = "#JSGF V1.0 UTF-8 en;\ngrammar t;\n"


def ruleset(text, **supplied):
    fetch = jsgf.folder_fetcher(supplied={name: body for name, body in supplied.items()})
    return jsgf.link([jsgf.parse(text)], fetch)


def graph(body, **supplied):
    return Graph(ruleset(HEADER + body, **supplied))


def says(graph, text):
    return bool(graph.readings(text))


def tags(graph, text):
    return next(reading.tags for reading in graph.readings(text))


def test_polite_command_of_the_note():
    # note, section 6.1, shortened: optional politeness around a command with tags
    commands = graph("""
        public <basicCmd> = <startPolite> <command> <endPolite>;
        <command> = <action> <object>;
        <action> = /10/ open | /2/ close | /1/ delete | /1/ move;
        <object> = [the | a] (window | file | menu);
        <startPolite> = (please | kindly | could you | oh mighty computer) *;
        <endPolite> = [ please | thanks | thank you ];
    """)
    for sentence in (
        "move a menu",
        "open file",
        "oh mighty computer please open a menu",
        "could you close the window thank you",
    ):
        assert says(commands, sentence), sentence
    for sentence in ("window open", "open", "open the the window", "please"):
        assert not says(commands, sentence), sentence


def test_unary_operators_bind_to_the_item_just_before():
    # note, section 4.7: "a tag applies to the tightest immediate preceding expansion"
    rules = graph("public <r> = new york {city} | (los angeles) {city} | na + batman;")
    assert tags(rules, "new york") == (("city", "york"),)
    assert tags(rules, "los angeles") == (("city", "los angeles"),)
    assert says(rules, "na na na batman") and not says(rules, "batman")


def test_sequence_binds_tighter_than_alternatives():
    rules = graph("public <r> = one two | three four;")
    assert says(rules, "one two") and says(rules, "three four")
    assert not says(rules, "one two four") and not says(rules, "one three four")


def test_tags_with_values_names_and_nesting():
    rules = graph("""
        public <order> = [<size> {size}] (<drink> {drink} {thing}) {all} [no milk {milk = "none"}];
        <size> = small | large {big=yes};
        <drink> = flat white | tea;
    """)
    assert tags(rules, "large flat white no milk") == (
        ("size", "large"),
        ("big", "yes"),
        ("all", "flat white"),
        ("drink", "flat white"),
        ("thing", "flat white"),
        ("milk", "none"),
    )


def test_escapes_quotes_and_comments():
    rules = graph(r"""
        /** documentation */ public <r> = "new   york" {a\}b} // to the end
            | rock\;roll /* in
            the middle */ | <NULL> end | <VOID> never | zero;
    """)
    assert tags(rules, "new york") == (("a}b", "new york"),)
    assert says(rules, "rock;roll") and says(rules, "end")
    assert not says(rules, "never")


def test_weight_zero_can_never_be_spoken():
    # note, section 4.3.2
    rules = graph("public <r> = /0/ never | /2.5/ often;")
    assert says(rules, "often") and not says(rules, "never")


def test_right_and_nested_recursion():
    # note, section 4.6: right recursion is allowed, and nested recursion where supported
    rules = graph("""
        public <list> = <item> | <item> and <list>;
        <item> = bolt | ( nut <list> washer );
    """)
    assert says(rules, "bolt and bolt and bolt and bolt")
    assert says(rules, "nut bolt and nut bolt washer washer and bolt")
    assert not says(rules, "nut bolt")


@pytest.mark.parametrize(
    "body",
    [
        "public <a> = <a> x | y;",
        "public <a> = [z] <b> x; <b> = <NULL> <a> | y;",
        "public <a> = z* <a> | y;",
    ],
)
def test_left_recursion_is_refused(body):
    with pytest.raises(jsgf.GrammarError, match="left recursion"):
        graph(body)


def test_a_rule_that_never_ends_is_refused():
    with pytest.raises(jsgf.GrammarError, match="no sentence that ends"):
        graph("public <a> = x <a>;")


def test_a_repeat_of_what_may_be_silent_ends():
    rules = graph("public <a> = ([x] [y])* z;")
    assert says(rules, "x y x z") and says(rules, "z")


@pytest.mark.parametrize(
    ("text", "line", "why"),
    [
        ("grammar t;\npublic <a> = b;", 1, "first line"),
        (HEADER + "public <a> = (b;", 3, "close the group"),
        (HEADER + "public <a> = [b | c;", 3, "close the optional"),
        (HEADER + "public <a> = b\n", 3, "';'"),
        (HEADER + "public <a> = b | ;", 3, "empty"),
        (HEADER + "\n\npublic <a> = <b>;", 5, "<b> is not defined"),
        (HEADER + "public <a> = /x/ b;", 3, "'/x/' is not a weight"),
        (HEADER + "public <a> = b;\npublic <a> = c;", 4, "twice"),
        (HEADER + "import <other.x>;\npublic <a> = b;", 3, "no grammar 'other'"),
        (HEADER + "import <x>;\npublic <a> = b;", 3, "grammar.rule"),
        (HEADER + 'public <a> = "";', 3, "quoted token is empty"),
        (HEADER + "public <a> = {tag};", 3, "did not expect"),
        (HEADER + "/* only\n a comment */", None, "no rule"),
    ],
)
def test_faults_are_named_with_their_line(text, line, why):
    with pytest.raises(jsgf.GrammarError, match=why) as caught:
        ruleset(text)
    assert caught.value.line == line
    assert "\n" not in str(caught.value)


def test_a_grammar_without_public_rules_is_refused():
    with pytest.raises(jsgf.GrammarError, match="nothing can be said"):
        graph("<a> = b;")


def test_imports_by_name_by_star_and_qualified():
    body = "import <far.off.num>; import <colors.*>; public <a> = <num> <color> <colors.shade>;"
    others = {
        "far.off": "#JSGF V1.0;\ngrammar far.off;\npublic <num> = <n>; <n> = one | two;",
        "colors": "#JSGF V1.0;\ngrammar colors;\npublic <color> = red; public <shade> = dark;",
    }
    assert says(graph(body, **others), "two red dark")
    with pytest.raises(jsgf.GrammarError, match=r"no public rule <far\.off\.n>"):
        graph("import <far.off.n>; public <a> = <n>;", **others)


def test_byte_order_mark_and_windows_line_ends():
    rules = Graph(ruleset("\ufeff" + (HEADER + "public <a> = b;").replace("\n", "\r\n")))
    assert says(rules, "b")


def test_a_thousand_alternatives():
    rules = graph("public <a> = " + " | ".join(f"word{n} {{n={n}}}" for n in range(1000)) + ";")
    assert tags(rules, "word777") == (("n", "777"),)


SMALL = [
    "public <a> = x (y | z) [w];",
    "public <a> = <b> <b>; <b> = p | q r;",
    "public <a> = (x | y z)+;",
    "public <a> = [x] y* z;",
    "public <a> = /2/ one | /1/ two (three | four);",
    "public <a> = a b | c <d>; <d> = [e] f;",
]


@pytest.mark.parametrize("body", SMALL)
def test_pyjsgf_agrees_on_what_may_be_said(body):
    """Reference library: pyjsgf, on grammars that it reads (reproduced on every run)."""
    ours = graph(body)
    theirs = pyjsgf.parse_grammar_string(HEADER + body)
    words = sorted({"x", "y", "z", "w", "p", "q", "r", "one", "two", "three", "four", *"abcdef"})
    rng = random.Random(4)
    rules = ruleset(HEADER + body)
    tried = {sample(rules, rng).text for _ in range(60)}
    for sentence in list(tried):
        spoken = sentence.split()
        spoken[rng.randrange(len(spoken))] = rng.choice(words)
        tried.add(" ".join(spoken))
        tried.add(" ".join(spoken[1:]))
    tried.discard("")
    verdicts = [says(ours, sentence) for sentence in tried]
    assert verdicts == [bool(theirs.find_matching_rules(sentence)) for sentence in tried]
    assert any(verdicts) and not all(verdicts)
