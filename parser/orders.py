"""What one line orders: its words as numbers, its codes by group, and what is wrong among them.

The law: an Order is judged before anything of it is done. Two codes of one group, a letter twice, a word
that no code takes, a word that a code lacks: each is found here [NIST IR 6556, 3.3.5, 3.4 and 3.5].
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from math import isfinite, isnan

from .blocks import Block, Number, Word
from .control import Control, Reason, Span
from .finding import Severity
from .modes import CODES, GROUP_NAMES, Axes, Code, Group, key

AXES = frozenset("XYZABCUVW")
OWN = frozenset("FSTN") | AXES  # words that need no code
MOST_M = 4
Value = Callable[[Word], float | None]


class Order:
    """One line: `values` and `words` by letter, `codes` by group; `lost` when it cannot be carried out."""

    __slots__ = ("axes", "blind", "block", "clashes", "codes", "lost", "reason", "unknown",
                 "values", "words")

    def __init__(self, block: Block) -> None:
        self.block = block
        self.values: dict[str, float] = {}
        self.words: dict[str, Word] = {}
        self.codes: dict[Group, tuple[Code, Word]] = {}
        self.axes: list[str] = []
        self.clashes: list[tuple[Code, Word, Code, Word]] = []
        self.lost = False  # what the line moves is not known
        self.blind = False  # not even which axes it moves
        self.unknown = False  # it has a code that no one knows, which may take any word
        self.reason: Reason | None = None

    def code(self, group: Group) -> Code | None:
        found = self.codes.get(group)
        return found[0] if found else None

    def span(self, letter: str) -> Span:
        """Where the word of a letter stands, or the code of that group, else the whole line."""
        word = self.words.get(letter)
        return span(word) if word else Span()

    def pointed(self, letter: str) -> bool:
        """Whether the word's number was written with a decimal point, or computed."""
        value = self.words[letter].value
        return not isinstance(value, Number) or value.pointed

    @property
    def m_numbers(self) -> list[float]:
        return [w.value.value for w in self.block.words if w.letter == "M" and isinstance(w.value, Number)]

    def of(self, group: Group) -> Span:
        found = self.codes.get(group)
        return span(found[1]) if found else Span()


def span(word: Word) -> Span:
    return Span(word.column, word.end)


def order_of(block: Block, control: Control, value: Value) -> Order:
    """The order that a block gives. `value` computes a word; NaN is one that is not known,
    None one that is not there."""
    order = Order(block)
    count_m = 0
    for word in block.words:
        number = value(word)
        if number is None:
            continue
        if word.letter == "G" or word.letter == "M":
            count_m += word.letter == "M"
            _take_code(order, control, word, number)
        elif word.letter in order.values:
            _twice(order, control, word, number)
        else:
            _take_word(order, word, number)
    for clash in order.clashes:
        _clash(order, control, *clash)
    if count_m > MOST_M:
        control.say("too-many-m", about="M", count=count_m, most=MOST_M)
    return order


def _take_word(order: Order, word: Word, number: float) -> None:
    order.values[word.letter] = number
    order.words[word.letter] = word
    if word.letter in AXES:
        order.axes.append(word.letter)


def _twice(order: Order, control: Control, word: Word, number: float) -> None:
    weight = control.say("letter-twice", span(word), about=word.letter, letter=word.letter)
    if weight is Severity.STOP and order.values[word.letter] != number:
        order.lost = True
    order.values[word.letter] = number


def _take_code(order: Order, control: Control, word: Word, number: float) -> None:
    at = key(word.letter, number)
    code = None if at is None else CODES.get(at)
    if code is not None and control.instead:
        code = control.instead.get(code.name, code)
    if code is None:
        _no_code(order, control, word, number)
        return
    if code.group in order.codes:
        order.clashes.append((*order.codes[code.group], code, word))
    if code.name != "G80" or code.group not in order.codes:  # G0 with G80: the cycle ends, G0 holds
        order.codes[code.group] = code, word
    if not control.dialect.takes(code.name):
        weight = control.say("code-not-in-dialect", span(word), about=code.name,
                             does=f"it would {GROUP_NAMES[code.group].removesuffix(', on their own line')}")
        order.lost = order.lost or (weight is Severity.STOP and code.axes is not Axes.NONE)


def _no_code(order: Order, control: Control, word: Word, number: float) -> None:
    order.unknown = True
    if isnan(number):
        order.lost = order.blind = True
        return
    name = "code-number" if key(word.letter, number) is None else "code-unknown"
    weight = control.say(name, span(word), about=f"{word.letter}{number:.10g}")
    if weight is Severity.STOP and word.letter == "G":
        order.lost = order.blind = True


def _clash(order: Order, control: Control, one: Code, first: Word, two: Code, second: Word) -> None:
    """Two codes of one group. Harmless are a code twice, and G80 beside another where nothing moves."""
    condition = "two-codes-of-group" if second.letter == "G" else "two-m-of-group"
    if {one.name, two.name} == {"M7", "M8"}:
        condition = "m7-with-m8"
    weight = control.dialect.severity(condition)
    harmless = one is two or ("G80" in (one.name, two.name) and not order.axes)
    if weight is Severity.CAUTION and harmless:
        weight = Severity.NOTE
    if weight is not None:
        control.say(condition, span(second), severity=weight, about=f"{one.name} {two.name}", first=one.name,
                    second=two.name, does=GROUP_NAMES[two.group])
    if weight is Severity.STOP and one is not two and second.letter == "G":
        order.lost = True


def check_words(order: Order, control: Control, takers: Iterable[Code], extra: str) -> None:
    """Every word has a code that takes it (`extra`: letters that the dialect adds), every code its words."""
    taken = set(extra)
    for code in takers:
        taken.update(code.takes)
    for code, word in order.codes.values():
        for letter in code.needs:
            waits = code.name == "G4" and any(c in order.values for c in extra)
            if letter not in order.values and not waits:
                control.say("word-missing", span(word), about=code.name, code=code.name, letter=letter)
    for letter in order.values:
        if letter not in OWN and letter not in taken and not order.unknown and letter[0] != ",":
            control.say("word-unused", order.span(letter), about=letter, letter=letter)


def whole(control: Control, order: Order, letter: str, least: int, most: int) -> int | None:
    """The word's value where it is a whole number in its range (within 0.0001), else a finding."""
    value = order.values[letter]
    if isfinite(value) and abs(value - round(value)) <= 0.0001 and least <= round(value) <= most:
        return round(value)
    if not isnan(value):
        control.say("value-range", order.span(letter), about=letter, letter=letter, number=f"{value:g}",
                    least=least, most=most)
    return None
