"""One line's text to what is written on it, by the grammar.

The law: the grammars alone say what a line may be: grammar/core.lark, and beside it a family's own. The
quick way in here takes lines of plain words by the grammar's own terminals; it gives what the grammar
gives, or leaves the line to it. What some controls refuse is a Slip beside what was read; what the grammar
does not take raises Unread.
"""

from __future__ import annotations

import hashlib
import re
from contextlib import suppress
from functools import cache, lru_cache
from importlib.resources import files
from pathlib import Path

from lark import Lark
from lark import __version__ as VERSION
from lark.exceptions import UnexpectedInput, UnexpectedToken

from .compiling.kept import made_once
from .gathering import Line
from .slips import Slip, slip_at
from .tree import Leaves
from .written import Number, Word

FAMILIES = {
    "none": ("core",), "labels": ("core", "keywords", "labelled"), "macros": ("core", "keywords", "macros"),
    "both": ("core", "keywords", "labelled", "macros"),
}
DEEPEST = 40  # values within each other
LONGEST = 20_000  # characters of a line that is more than plain words
LONGEST_NUMBER = 40  # in a plain line
KEPT = 4096  # parsed lines kept: programs repeat themselves


class Unread(Exception):
    """The grammar does not take the line."""

    def __init__(self, slip: Slip) -> None:
        super().__init__(slip.found)
        self.slip = slip


def read_line(text: str, flow: str = "none") -> Line:
    """A line of a family, by its `flow.kind`. Raises Unread."""
    return plain_line(text, flow) or parsed_line(text, flow)


def rules_of(flow: str) -> str:
    """The rules of a family."""
    folder = files(__name__.rpartition(".")[0]).joinpath("grammar")
    return "\n".join(folder.joinpath(f"{name}.lark").read_text(encoding="utf-8") for name in FAMILIES[flow])


class Grammar:
    """A grammar of the folder grammar/, and its parser, which makes Lines."""

    def __init__(self, flow: str) -> None:
        rules = rules_of(flow)
        self.leaves = Leaves()
        self.accepted: dict[tuple[int, ...], frozenset[str]] = {}
        name = f"grammar-{hashlib.sha256(rules.encode()).hexdigest()[:16]}-{VERSION}.tables"
        with made_once(Path(__file__), name) as tables:  # building them takes ten times longer
            self.lark = Lark(rules, parser="lalr", start="line", cache=str(tables) if tables else False,
                             transformer=self.leaves, maybe_placeholders=False, g_regex_flags=re.ASCII)

    def line(self, text: str) -> Line:
        """Raises UnexpectedInput."""
        self.leaves.begin(text)
        return self.lark.parse(text)  # type: ignore[return-value]

    def accepts(self, text: str) -> frozenset[str]:
        """The terminals that may stand behind a text that begins a line."""
        parsing = self.lark.parse_interactive(text)
        with suppress(UnexpectedInput):  # cut off, the last token may be another than it is in its line
            parsing.exhaust_lexer()
        state = tuple(parsing.parser_state.state_stack)  # this alone decides it, and there are few of them
        if state not in self.accepted:
            self.accepted[state] = frozenset(parsing.accepts())
        return self.accepted[state]

    def terminal(self, name: str) -> str:
        """A terminal as a regular expression."""
        found = next(t for t in self.lark.terminals if t.name == name)
        return f"(?:{found.pattern.to_regexp()})"


@cache
def grammar(flow: str = "none") -> Grammar:
    """The grammar of a family, by how its programs flow (a dialect's `flow.kind`)."""
    return Grammar(flow)


@lru_cache(KEPT)
def parsed_line(text: str, flow: str = "none") -> Line:
    """By the grammar. Raises Unread."""
    if len(text) > LONGEST:
        raise Unread(Slip("unread", LONGEST + 1, len(text) + 1, f"a line of {len(text)} characters",
                          f"a line of {LONGEST} at most"))
    if text.count("[") + text.count("#") > DEEPEST and deep(text):
        raise Unread(Slip("unread", 1, len(text) + 1, f"more than {DEEPEST} values within each other",
                          "a simpler expression"))
    try:
        return grammar(flow).line(text)
    except UnexpectedInput as bad:
        raise Unread(slip_at(text, _place(text, bad), grammar(flow))) from None


def _place(text: str, bad: UnexpectedInput) -> int:
    """The index of the character that is not read; len(text) where the line ends too early."""
    ended = isinstance(bad, UnexpectedToken) and bad.token.type == "$END"
    return len(text) if ended else bad.column - 1


def deep(text: str) -> bool:
    """Whether values stand within each other deeper than anyone writes."""
    depth = deepest = 0
    for sign in text:
        depth += (sign in "[#") - (sign == "]")
        depth = 0 if sign.isspace() and "[" not in text else depth
        deepest = max(deepest, depth)
    return deepest > DEEPEST


# --- the quick way ---

@cache
def _plain(flow: str) -> tuple[re.Pattern[str], re.Pattern[str]]:
    of, blanks = grammar(flow).terminal, "[ \t]*"
    number = rf"{blanks}(?:{of('N')}{blanks}([0-9]+)(?![0-9.]))?{blanks}"
    word = rf"{blanks}({of('LETTER')}){blanks}({of('SIGN')}?){blanks}({of('NUMBER')}){blanks}"
    return re.compile(number, re.ASCII), re.compile(word, re.ASCII)


def plain_line(text: str, flow: str = "none") -> Line | None:
    """A line of plain words, None for any other; every family reads it alike."""
    head, word = _plain(flow)
    numbered = head.match(text)
    assert numbered is not None  # it may be empty
    words, at, stop, digits = [], numbered.end(), len(text), numbered[1] or ""
    while at < stop:
        found = word.match(text, at)
        if found is None:
            return None
        letter, sign, number = found.groups()
        if letter in "Oo" or not number.replace(".", "", 1).isdigit() or len(number) > LONGEST_NUMBER:
            return None
        words.append(Word(letter.upper(), Number(float(sign + number), "." in number), found.start(1) + 1,
                          found.end(3) + 1))
        at = found.end()
    return Line(words=tuple(words), number=int(digits) if digits else None, digits=digits)
