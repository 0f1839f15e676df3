"""Reading JSGF files.

The format is the W3C note "JSpeech Grammar Format" (5 June 2000). This reader takes the
whole of it: header, imports, public rules, alternatives and weights, sequences, groups,
optional groups, ``*`` and ``+``, tags, quoted tokens, escapes, both kinds of comment,
``<NULL>`` and ``<VOID>``, and recursion as long as it is not left recursion.

The library pyjsgf was tried first. It refuses tags with a value (``{size=large}``),
quoted tokens, comments before the first rule, and more than about a hundred
alternatives; the tests use it as a second opinion on what it does read.

A tag is ``{name}``, whose value is the words of the expansion it is attached to, or
``{name=value}``.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path


class GrammarError(ValueError):
    """A grammar cannot be used; the message names file and line and says why."""

    def __init__(self, why: str, source: str = "", line: int | None = None):
        where = f"{source}, line {line}: " if line else (f"{source}: " if source else "")
        super().__init__(f"{where}{why}")
        self.why, self.source, self.line = why, source, line


@dataclass(frozen=True)
class Token:
    """One word to be spoken, as the grammar writes it."""

    text: str


@dataclass(frozen=True)
class Ref:
    """A reference to a rule, by its name as written."""

    name: str
    line: int = field(compare=False, default=0)


@dataclass(frozen=True)
class Sequence:
    items: tuple[Expansion, ...]


@dataclass(frozen=True)
class Alternatives:
    """One of several; ``weights`` holds None where the grammar gives no weight."""

    items: tuple[Expansion, ...]
    weights: tuple[float | None, ...]


@dataclass(frozen=True)
class Maybe:
    item: Expansion


@dataclass(frozen=True)
class Repeat:
    """``*`` (at_least 0) or ``+`` (at_least 1)."""

    item: Expansion
    at_least: int


@dataclass(frozen=True)
class Tagged:
    item: Expansion
    tags: tuple[str, ...]


@dataclass(frozen=True)
class Void:
    """``<VOID>``: can never be spoken."""


Expansion = Token | Ref | Sequence | Alternatives | Maybe | Repeat | Tagged | Void

NULL = Sequence(())


@dataclass(frozen=True)
class Rule:
    name: str
    public: bool
    expansion: Expansion
    line: int


@dataclass(frozen=True)
class Grammar:
    """One parsed file: nothing is resolved yet."""

    name: str
    rules: Mapping[str, Rule]
    imports: tuple[tuple[str, int], ...]
    source: str


def split_tag(tag: str) -> tuple[str, str | None]:
    """``size=large`` -> ("size", "large"); ``size`` -> ("size", None)."""
    name, equals, value = tag.partition("=")
    value = value.strip()
    if len(value) >= 2 and value[0] == value[-1] and value[0] in "\"'":
        value = value[1:-1]
    return name.strip(), value if equals else None


# --- from text to tokens ------------------------------------------------------------

_LEXEMES = re.compile(
    r"""
      (?P<space>\s+)
    | (?P<comment>//[^\n]*|/\*.*?\*/)
    | (?P<quoted>"(?:[^"\\]|\\.)*")
    | (?P<tag>\{(?:[^{}\\]|\\.)*\})
    | (?P<rule><[^<>;\n]*>)
    | (?P<weight>/\s*[-+0-9.eE]+\s*/)
    | (?P<mark>[;=|*+()\[\]])
    | (?P<token>(?:[^\s;=|*+<>()\[\]{}"/\\]|\\.|/(?![/*]))+)
    """,
    re.VERBOSE | re.DOTALL,
)
_HEADER = re.compile(r"\s*#JSGF\b[^;\n]*;?")


@dataclass(frozen=True)
class _Lexeme:
    kind: str
    text: str
    line: int


def _lexemes(text: str, source: str) -> Iterator[_Lexeme]:
    position, line = 0, 1
    while position < len(text):
        found = _LEXEMES.match(text, position)
        if not found:
            shown = text[position : position + 12].split("\n")[0]
            raise GrammarError(f"cannot read from {shown!r} on", source, line)
        kind = found.lastgroup or ""
        if kind not in ("space", "comment"):
            yield _Lexeme(kind, found.group(), line)
        line += found.group().count("\n")
        position = found.end()


def _unescape(text: str) -> str:
    return re.sub(r"\\(.)", r"\1", text, flags=re.DOTALL)


class _Reader:
    """Recursive descent over the lexemes, by the precedence of the note's section 4.7."""

    def __init__(self, text: str, source: str):
        self.source = source
        self.lexemes = list(_lexemes(text, source))
        self.at = 0

    def error(self, why: str) -> GrammarError:
        line = self.lexemes[min(self.at, len(self.lexemes) - 1)].line if self.lexemes else 1
        return GrammarError(why, self.source, line)

    def peek(self, *texts: str) -> bool:
        return self.at < len(self.lexemes) and self.lexemes[self.at].text in texts

    def peek_kind(self, *kinds: str) -> bool:
        return self.at < len(self.lexemes) and self.lexemes[self.at].kind in kinds

    def take(self) -> _Lexeme:
        lexeme = self.lexemes[self.at]
        self.at += 1
        return lexeme

    def expect(self, text: str, after: str) -> None:
        if not self.peek(text):
            found = self.lexemes[self.at].text if self.at < len(self.lexemes) else "the end"
            raise self.error(f"expected {text!r} {after}, found {found!r}")
        self.at += 1

    def expect_kind(self, kind: str, what: str) -> _Lexeme:
        if not self.peek_kind(kind):
            raise self.error(f"expected {what}")
        return self.take()

    def grammar(self, default_name: str) -> Grammar:
        name = default_name
        if self.peek("grammar"):
            self.at += 1
            name = self.expect_kind("token", "the grammar's name").text
            self.expect(";", "after the grammar's name")
        imports: list[tuple[str, int]] = []
        rules: dict[str, Rule] = {}
        while self.at < len(self.lexemes):
            if self.peek("import"):
                line = self.take().line
                # "<a.b.*>" holds a star, so it is one rule lexeme.
                imports.append((self.rule_name("the rule to import"), line))
                self.expect(";", "after the import")
                continue
            rule = self.rule()
            if rule.name in rules:
                raise GrammarError(f"rule <{rule.name}> is defined twice", self.source, rule.line)
            rules[rule.name] = rule
        if not rules:
            raise GrammarError("no rule is defined", self.source)
        return Grammar(name, rules, tuple(imports), self.source)

    def rule_name(self, what: str) -> str:
        name = self.expect_kind("rule", f"{what} in angle brackets").text[1:-1].strip()
        if not name:
            raise self.error("a rule needs a name between its angle brackets")
        return name

    def rule(self) -> Rule:
        public = self.peek("public")
        line = self.lexemes[self.at].line
        if public:
            self.at += 1
        name = self.rule_name("a rule")
        self.expect("=", f"after <{name}>")
        expansion = self.alternatives()
        self.expect(";", f"at the end of <{name}>")
        return Rule(name, public, expansion, line)

    def alternatives(self) -> Expansion:
        items, weights = [], []
        while True:
            weight = None
            if self.peek_kind("weight"):
                text = self.take().text.strip("/ \t\n")
                try:
                    weight = float(text)
                except ValueError:
                    raise self.error(f"{text!r} is not a weight") from None
                if weight < 0:
                    raise self.error("a weight cannot be negative")
            items.append(self.sequence())
            weights.append(weight)
            if not self.peek("|"):
                break
            self.at += 1
        if len(items) == 1 and weights[0] is None:
            return items[0]
        return Alternatives(tuple(items), tuple(weights))

    def sequence(self) -> Expansion:
        items = []
        while not self.peek("|", ";", ")", "]") and self.at < len(self.lexemes):
            items.append(self.unary())
        if not items:
            raise self.error("an alternative is empty; write <NULL> if that is meant")
        return items[0] if len(items) == 1 else Sequence(tuple(items))

    def unary(self) -> Expansion:
        item = self.atom()
        while True:
            if self.peek("*"):
                self.at += 1
                item = Repeat(item, 0)
            elif self.peek("+"):
                self.at += 1
                item = Repeat(item, 1)
            elif self.peek_kind("tag"):
                tags = []
                while self.peek_kind("tag"):
                    tags.append(_unescape(self.take().text[1:-1]).strip())
                item = Tagged(item, tuple(tags))
            else:
                return item

    def atom(self) -> Expansion:
        if self.peek("("):
            self.at += 1
            item = self.alternatives()
            self.expect(")", "to close the group")
            return item
        if self.peek("["):
            self.at += 1
            item = self.alternatives()
            self.expect("]", "to close the optional group")
            return Maybe(item)
        if self.peek_kind("rule"):
            line = self.lexemes[self.at].line
            name = self.rule_name("a rule")
            return {"NULL": NULL, "VOID": Void()}.get(name) or Ref(name, line)
        if self.peek_kind("quoted"):
            words = _unescape(self.take().text[1:-1]).split()
            if not words:
                raise self.error("a quoted token is empty")
            tokens = tuple(Token(word) for word in words)
            return tokens[0] if len(tokens) == 1 else Sequence(tokens)
        if self.peek_kind("token"):
            text = self.lexemes[self.at].text
            if len(text) > 2 and text[0] == text[-1] == "/":
                raise self.error(f"{text!r} is not a weight: write a number between the strokes")
            return Token(_unescape(self.take().text))
        found = self.lexemes[self.at].text if self.at < len(self.lexemes) else "the end"
        raise self.error(f"did not expect {found!r} here")


def parse(text: str, source: str = "grammar", default_name: str = "unnamed") -> Grammar:
    """Parse one JSGF text; raises GrammarError with the line of the fault."""
    text = text.lstrip("\ufeff")
    header = _HEADER.match(text)
    if not header:
        raise GrammarError("the first line must be '#JSGF V1.0;'", source, 1)
    # Blank the header but keep its line breaks, so that line numbers stay right.
    blank = "\n" * header.group().count("\n")
    return _Reader(blank + text[header.end() :], source).grammar(default_name)


# --- from files to one set of rules -------------------------------------------------


@dataclass(frozen=True)
class RuleSet:
    """Linked rules, each under its full name ``grammar.rule``.

    roots: full names of the public rules that may be spoken, in file order.
    """

    rules: Mapping[str, Expansion]
    roots: tuple[str, ...]

    @staticmethod
    def short(full_name: str) -> str:
        return full_name.rpartition(".")[2]


Fetch = Callable[[str], Grammar | None]
"""Grammar name -> the parsed grammar, or None if there is none of that name."""


def folder_fetcher(*folders: Path, supplied: Mapping[str, str] | None = None) -> Fetch:
    """Look for ``name.jsgf`` in supplied texts first, then in each folder in turn."""
    cache: dict[str, Grammar | None] = {}

    def fetch(name: str) -> Grammar | None:
        if name not in cache:
            cache[name] = _fetch(name)
        return cache[name]

    def _fetch(name: str) -> Grammar | None:
        if supplied and name in supplied:
            return parse(supplied[name], f"{name}.jsgf", name)
        for folder in folders:
            for relative in (f"{name}.jsgf", f"{name.replace('.', '/')}.jsgf"):
                path = folder / relative
                if path.is_file():
                    return read_file(path)
        return None

    return fetch


def read_file(path: Path) -> Grammar:
    """Parse a JSGF file (UTF-8); raises GrammarError for anything unreadable."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise GrammarError("is not UTF-8 text", str(path)) from None
    except OSError as trouble:
        raise GrammarError(f"cannot be read: {trouble.strerror}", str(path)) from None
    return parse(text, str(path), path.stem)


def link(grammars: list[Grammar], fetch: Fetch) -> RuleSet:
    """Resolve every reference, by the note's section 4.2: own rules first, then imports.

    Raises GrammarError for an unknown rule or import, left recursion, a private import,
    or a grammar without a public rule.
    """
    linked: dict[str, Expansion] = {}
    waiting = list(grammars)
    seen = {grammar.name: grammar for grammar in grammars}
    if len(seen) < len(grammars):
        raise GrammarError("two files bear the same grammar name")

    def grammar_named(name: str, asked_by: Grammar, line: int) -> Grammar:
        if name not in seen:
            found = fetch(name)
            if found is None:
                raise GrammarError(f"no grammar {name!r} to import", asked_by.source, line)
            seen[name] = found
            waiting.append(found)
        return seen[name]

    while waiting:
        grammar = waiting.pop(0)
        names = {name: f"{grammar.name}.{name}" for name in grammar.rules}
        for imported, line in grammar.imports:
            of, _, rule_name = imported.rpartition(".")
            if not of:
                raise GrammarError(
                    f"import <{imported}> must say grammar.rule or grammar.*", grammar.source, line
                )
            other = grammar_named(of, grammar, line)
            public = [rule.name for rule in other.rules.values() if rule.public]
            if rule_name != "*" and rule_name not in public:
                raise GrammarError(f"no public rule <{imported}>", grammar.source, line)
            for name in public if rule_name == "*" else [rule_name]:
                names.setdefault(name, f"{of}.{name}")
                names.setdefault(f"{of}.{name}", f"{of}.{name}")
                names.setdefault(f"{of.rpartition('.')[2]}.{name}", f"{of}.{name}")

        for rule in grammar.rules.values():
            names.setdefault(f"{grammar.name}.{rule.name}", f"{grammar.name}.{rule.name}")
        for rule in grammar.rules.values():
            linked[f"{grammar.name}.{rule.name}"] = _resolve(rule.expansion, names, grammar)

    roots = tuple(
        f"{grammar.name}.{rule.name}"
        for grammar in grammars
        for rule in grammar.rules.values()
        if rule.public
    )
    if not roots:
        raise GrammarError("no rule is public, so nothing can be said", grammars[0].source)
    _refuse_left_recursion(linked, grammars[0].source)
    _refuse_endless(linked, roots, grammars[0].source)
    return RuleSet(linked, roots)


def _resolve(expansion: Expansion, names: Mapping[str, str], grammar: Grammar) -> Expansion:
    def walk(item: Expansion) -> Expansion:
        match item:
            case Ref(name, line):
                if name not in names:
                    raise GrammarError(f"rule <{name}> is not defined", grammar.source, line)
                return Ref(names[name], line)
            case Sequence(items):
                return Sequence(tuple(walk(child) for child in items))
            case Alternatives(items, weights):
                return Alternatives(tuple(walk(child) for child in items), weights)
            case Maybe(child):
                return Maybe(walk(child))
            case Repeat(child, at_least):
                return Repeat(walk(child), at_least)
            case Tagged(child, tags):
                return Tagged(walk(child), tags)
            case _:
                return item

    return walk(expansion)


def children(item: Expansion) -> tuple[Expansion, ...]:
    """The expansions that one is put together from."""
    match item:
        case Sequence(items) | Alternatives(items, _):
            return items
        case Maybe(child) | Repeat(child, _) | Tagged(child, _):
            return (child,)
        case _:
            return ()


def _fixpoint(rules: Mapping[str, Expansion], holds: Callable[[Expansion, set[str]], bool]):
    """Names of the rules for which ``holds`` is true, found by repeating until stable."""
    true: set[str] = set()
    while True:
        more = {name for name, item in rules.items() if name not in true and holds(item, true)}
        if not more:
            return true
        true |= more


def _may_be_silent(item: Expansion, silent: set[str]) -> bool:
    match item:
        case Sequence(items):
            return all(_may_be_silent(child, silent) for child in items)
        case Alternatives(items, _):
            return any(_may_be_silent(child, silent) for child in items)
        case Maybe(_):
            return True
        case Repeat(child, at_least):
            return at_least == 0 or _may_be_silent(child, silent)
        case Tagged(child, _):
            return _may_be_silent(child, silent)
        case Ref(name, _):
            return name in silent
        case _:
            return False


def _can_end(item: Expansion, ending: set[str]) -> bool:
    match item:
        case Sequence(items):
            return all(_can_end(child, ending) for child in items)
        case Alternatives(items, weights):
            return any(_can_end(c, ending) for c, w in zip(items, weights, strict=True) if w != 0)
        case Maybe(_):
            return True
        case Repeat(child, at_least):
            return at_least == 0 or _can_end(child, ending)
        case Tagged(child, _):
            return _can_end(child, ending)
        case Ref(name, _):
            return name in ending
        case Void():
            return False
        case _:
            return True


def _refuse_left_recursion(rules: Mapping[str, Expansion], source: str) -> None:
    silent = _fixpoint(rules, _may_be_silent)

    def firsts(item: Expansion) -> Iterator[str]:
        if isinstance(item, Ref):
            yield item.name
        elif isinstance(item, Sequence):
            for child in item.items:
                yield from firsts(child)
                if not _may_be_silent(child, silent):
                    break
        else:
            for child in children(item):
                yield from firsts(child)

    first_of = {name: set(firsts(item)) for name, item in rules.items()}
    for name in rules:
        reached, edge = set(), {name}
        while edge:
            edge = {after for start in edge for after in first_of[start]} - reached
            reached |= edge
        if name in reached:
            raise GrammarError(
                f"rule <{RuleSet.short(name)}> begins with itself (left recursion)", source
            )


def _refuse_endless(rules: Mapping[str, Expansion], roots: tuple[str, ...], source: str) -> None:
    ending = _fixpoint(rules, _can_end)
    for root in roots:
        if root not in ending:
            raise GrammarError(f"rule <{RuleSet.short(root)}> has no sentence that ends", source)
