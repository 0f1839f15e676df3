"""What may be said next: the grammar of a conversation's next turn.

The phrases stand in ``grammars/dialogue.jsgf``. Two of its rules are made here from the
question in hand: ``context.change`` names another value for one of its slots ("at sixty",
"half inch bead"), ``context.reply`` answers what the program has asked. A slot's values are
whatever the routine's own grammar allows where it tags that slot, so a new family of
questions has its follow-ups at once.
"""

from __future__ import annotations

from collections.abc import Sequence

from assistant.declaration import Routine, Slot
from assistant.hearing import jsgf
from assistant.hearing.jsgf import Alternatives, Expansion, Maybe, Ref, RuleSet, Tagged, Token

GRAMMAR = "dialogue"
CONTEXT = "context"
PLACEHOLDERS = {
    CONTEXT: "#JSGF V1.0; grammar context; public <change> = unset; public <reply> = unset;"
}
"""Stands for the grammar made here while the files are linked."""

BAY_SLOT = "bay"
"""Slot of a routine that is about a bay. It is changed by "same for bay three": another bay has
a conversation of its own."""

BARE_NUMBER, BARE_COUNT = "numbers.amount", "numbers.count"

_BEFORE: dict[str, tuple[str, ...]] = {
    "temperature": ("at",),
    "temperature_difference": ("with",),
    "length": ("for", "with", "with a"),
    "volume": ("for",),
    "area": ("for",),
    "mass": ("for",),
    "duration": ("for", "in"),
    "clock": ("by", "at"),
    "count": ("with", "for"),
    "number": ("with",),
    "percent": ("with",),
    "ratio": ("at",),
    "choice": ("with", "with a"),
    "product": ("with", "with the", "for the"),
    "spelled": (),
    "words": (),
}
"""What may stand before a value of each kind."""

_BEFORE_REPLY = ("it is", "it's", "about")


def link(rules: RuleSet, fetch: jsgf.Fetch) -> RuleSet:
    """The routines' rules and those of the dialogue grammar in one set; its roots are the
    dialogue's. ``fetch`` must know PLACEHOLDERS."""
    grammar = fetch(GRAMMAR)
    if grammar is None:
        raise jsgf.GrammarError(f"no grammar {GRAMMAR!r}")
    linked = jsgf.link([grammar], fetch)
    return RuleSet({**rules.rules, **linked.rules}, linked.roots)


def root_of(rules: RuleSet, routine: Routine) -> str:
    """Full name of the routine's public rule."""
    return f"{routine.grammar}.{routine.name}"


def turn(
    rules: RuleSet, names: Sequence[str], change: Expansion | None, reply: Expansion | None
) -> RuleSet:
    """The rules that may be spoken next: those ``names`` of the dialogue grammar."""
    made = {
        f"{CONTEXT}.change": change or jsgf.Void(),
        f"{CONTEXT}.reply": reply or jsgf.Void(),
    }
    roots = tuple(root for root in rules.roots if RuleSet.short(root) in names)
    return RuleSet({**rules.rules, **made}, roots)


def change(rules: RuleSet, routine: Routine) -> Expansion | None:
    """Another value for one slot of the routine, the bay's apart; None where it has none to
    change."""
    forms: list[Expansion] = []
    kinds: set[str] = set()
    for slot in routine.slots:
        if slot.many or slot.name == BAY_SLOT:
            continue
        values = _values(rules, routine, slot)
        if values is None:
            continue
        first = slot.kind not in kinds
        kinds.add(slot.kind)
        forms.append(_carried(slot, values, first))
    return Alternatives(tuple(forms), (None,) * len(forms)) if forms else None


def reply_to_missing(rules: RuleSet, routine: Routine, slot: Slot) -> Expansion | None:
    """The answer to the question for a slot: the bare value, or with a word before it."""
    values = _values(rules, routine, slot)
    if values is None:
        return None
    before = _words_before((*_BEFORE_REPLY, *_BEFORE[slot.kind]))
    return jsgf.Sequence((Maybe(before), _tagged(slot, values)))


def reply_to_choice(forms: Sequence[Sequence[str]], tag: str) -> Expansion:
    """One of the given replies; ``tag`` holds the number of the option it chooses."""
    options = [
        Tagged(_either([_phrase(form) for form in option]), (f"{tag}={number}",))
        for number, option in enumerate(forms)
    ]
    return _either(options)


def places(rules: RuleSet, root: str, slot: str) -> tuple[Expansion, ...]:
    """What the grammar allows wherever ``slot`` is tagged below ``root``; each once."""
    found: dict[Expansion, None] = {}
    seen: set[str] = set()

    def walk(item: Expansion) -> None:
        match item:
            case Ref(name, _):
                if name not in seen:
                    seen.add(name)
                    walk(rules.rules[name])
            case Tagged(child, tags):
                for tag in tags:
                    name, value = jsgf.split_tag(tag)
                    if name == slot:
                        found[child if value is None else Tagged(child, (tag,))] = None
                walk(child)
            case _:
                for child in jsgf.children(item):
                    walk(child)

    walk(Ref(root))
    return tuple(found)


def _values(rules: RuleSet, routine: Routine, slot: Slot) -> Expansion | None:
    found = list(places(rules, root_of(rules, routine), slot.name))
    if not found:
        return None
    if slot.kind == "count" and BARE_COUNT in rules.rules:
        found.append(Ref(BARE_COUNT))
    if slot.default_unit and slot.kind != "temperature" and BARE_NUMBER in rules.rules:
        found.append(Ref(BARE_NUMBER))
    return _either(list(dict.fromkeys(found)))


def _carried(slot: Slot, values: Expansion, first: bool) -> Expansion:
    """ "at sixty"; for the second slot of a kind with its name: "half inch bead"."""
    items: list[Expansion] = []
    before = _BEFORE[slot.kind]
    if before:
        items.append(Maybe(_words_before(before)))
    items.append(_tagged(slot, values))
    noun = _phrase(slot.name.replace("_", " "))
    if not first and slot.kind not in ("product", "choice"):
        items.append(noun)
    elif slot.kind in ("length", "count"):
        items.append(Maybe(noun))
    return jsgf.Sequence(tuple(items))


def _tagged(slot: Slot, values: Expansion) -> Expansion:
    """The values under the slot's tag; those that bring a tag of their own keep it."""
    own = [item for item in values.items if isinstance(item, Tagged)]
    rest = [item for item in values.items if not isinstance(item, Tagged)]
    tagged = [Tagged(_either(rest), (slot.name,))] if rest else []
    return _either([*tagged, *own])


def _words_before(phrases: Sequence[str]) -> Expansion:
    return _either([_phrase(words) for words in phrases])


def _phrase(words: str) -> Expansion:
    return jsgf.Sequence(tuple(Token(word) for word in words.split()))


def _either(items: Sequence[Expansion]) -> Alternatives:
    return Alternatives(tuple(items), (None,) * len(items))
