"""Which family of controls or machines a program seems to be written for, and what shows it.

The law: a guess, said as one, from what stands in the program: it chooses nothing by itself. For programs of
other trades it says what of them is not simulated.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from .blocks import read_blocks
from .dialect import load_dialect
from .source import Source
from .written import Block, Call, Chain, Name, Number, Parameter, Signed, Value

FEW, MANY = 2, 0.3  # signs that make a guess; share of moves
HEAD, TAIL = 2000, 500  # lines of a long program that are looked at
SETTING = re.compile(r"\s*\$(?:\d+\s*=|[HXJIN#$])", re.IGNORECASE)
OTHER = re.compile(r"""\s*(?:N\s*\d+\s*)?(?:R\d+\s*=|DEF\s+[A-Z]|GOTO[FB]\s|REPEAT\s+[A-Z]|WHILE\s*\(|
    [A-Z]+\d*\s*=\s*(?:[A-Z]+\(|[-+]?\(|"|[-+]?[\d.])|(?:PROC|CALL|LBL|TOOL|CYCL|FN)\s|[A-Z]{3,}\d*\s*\()""",
                   re.IGNORECASE | re.VERBOSE)


@dataclass(frozen=True, slots=True)
class Family:
    """dialect: the shipped dialect that fits, "" where none does · title: what it is in words · why: what
    shows it · line: where · blind: what of it is not simulated, "" for nothing.
    """

    dialect: str
    title: str
    why: str
    line: int
    blind: str = ""


def guess(source: Source) -> Family:
    """The family of a program's text; of a long one its beginning and its end are looked at.

    Raises Unreadable where the source is no text.
    """
    if source.count <= HEAD + TAIL:
        lines = source.between(1, source.count)
        return _said(lines) or family_of(_read(source.name, lines))
    skipped = source.count - TAIL
    head, tail = source.between(1, HEAD), source.between(skipped + 1, source.count)
    said = _said((*head, *tail))
    if said is not None:
        return said
    ending = (replace(block, line=block.line + skipped) for block in _read(source.name, tail))
    return family_of([*_read(source.name, head), *ending])


def _read(name: str, lines: Sequence[str]) -> list[Block]:
    text = "\n".join(lines).encode()
    return read_blocks(Source(name, text), load_dialect("union"))[0] if text.strip() else []


def _said(lines: Sequence[str]) -> Family | None:
    """What the text of lines shows that this language has no words for."""
    for signs, least, make in ((SETTING, 1, _control("compact", "a compact control, with its settings")),
                               (OTHER, FEW, _trade("a program in another language of controls",
                                                   "its assignments, jumps, calls and named words"))):
        found = [(number, line) for number, line in enumerate(lines, 1) if signs.match(line)]
        if len(found) >= least:
            number, line = found[0]
            return make(f'"{line.strip()[:30]}"', number)
    return None


def family_of(blocks: Sequence[Block]) -> Family:
    """The family that the most telling signs speak for; a plain program fits every control."""
    for signs, least, make in SIGNS:
        found = list(signs(blocks))
        if len(found) >= least:
            what, line = found[0]
            return make(what, line)
    return Family("standard", "plain lines that every family reads", "nothing in it is of one family only", 0)


Sign = tuple[str, int]  # what stands there, and its line


def _codes(blocks: Sequence[Block], *codes: str) -> Iterator[Sign]:
    for block in blocks:
        for word in block.words:
            if word.letter in "GM" and isinstance(word.value, Number):
                code = f"{word.letter}{word.value.value:g}"
                if code in codes:
                    yield code, block.line


def _printer(blocks: Sequence[Block]) -> Iterator[Sign]:
    """Heating, or material pushed out along a move."""
    yield from _codes(blocks, "M104", "M109", "M140", "M190", "M82", "M83", "G29")
    for block in blocks:
        letters = {word.letter for word in block.words}
        if "E" in letters and not letters.isdisjoint("XY"):
            yield "an E word beside X and Y", block.line


def _turning(blocks: Sequence[Block]) -> Iterator[Sign]:
    """Turning cycles with P and Q, constant cutting speed, T0101, diameters; and no Y anywhere."""
    if any(word.letter == "Y" for block in blocks for word in block.words):
        return
    yield from _codes(blocks, "G96", "G7")
    for block in blocks:
        values = {w.letter: w.value.value for w in block.words if isinstance(w.value, Number)}
        if values.get("G") in (70, 71, 72, 73, 76) and {"P", "Q"} <= values.keys():
            yield f"G{values['G']:g} with P and Q", block.line
        if values.get("T", 0) >= 101 and values["T"] % 101 == 0:
            yield f"T{values['T']:04g}", block.line


def _laser(blocks: Sequence[Block]) -> Iterator[Sign]:
    """Power as an S word on move after move, and nothing that goes down."""
    moves = [block for block in blocks if any(word.letter in "XY" for word in block.words)]
    if any(word.letter == "Z" for block in blocks for word in block.words):
        return
    powered = [block for block in moves if any(word.letter == "S" for word in block.words)]
    if moves and len(powered) >= max(FEW, MANY * len(moves)):
        yield from (("S on a move and no Z word", block.line) for block in powered)


def _wire(blocks: Sequence[Block]) -> Iterator[Sign]:
    """A second pair of axes, U and V, and no Z."""
    letters = {word.letter for block in blocks for word in block.words}
    if {"U", "V"} <= letters and "Z" not in letters:
        yield from (("U and V words and no Z word", block.line) for block in blocks
                    if any(word.letter in "UV" for word in block.words))


def _labelled(blocks: Sequence[Block]) -> Iterator[Sign]:
    for block in blocks:
        if block.flow is not None and block.flow.label is not None:
            yield f"an O word with {block.flow.step.lower()}", block.line
        elif any(_named(value) for value in _values(block)):
            yield "a parameter with a name", block.line


def _macros(blocks: Sequence[Block]) -> Iterator[Sign]:
    for block in blocks:
        if block.flow is not None and block.flow.label is None:
            yield block.flow.step, block.line
    yield from _codes(blocks, "G65", "G66", "M98", "M99", "M97")


def _tape(blocks: Sequence[Block]) -> Iterator[Sign]:
    """G70 and G71 as units, or G74 and G75 beside an arc."""
    for block in blocks:
        letters = {word.letter for word in block.words}
        numbers = (w.value.value for w in block.words if w.letter == "G" and isinstance(w.value, Number))
        codes = {f"G{number:g}" for number in numbers}
        if codes & {"G70", "G71"} and letters.isdisjoint("PQURW"):
            yield f"{min(codes & {'G70', 'G71'})} as a unit", block.line
        elif codes & {"G74", "G75"} and codes & {"G2", "G3"}:
            yield f"{min(codes & {'G74', 'G75'})} beside an arc", block.line


def _cornered(blocks: Sequence[Block]) -> Iterator[Sign]:
    yield from (("a corner's word behind a comma", block.line) for block in blocks
                if any(word.letter[0] == "," for word in block.words))


def _assigned(blocks: Sequence[Block]) -> Iterator[Sign]:
    yield from (("a parameter or an expression", block.line) for block in blocks
                if any(not isinstance(value, Number) for value in _values(block)))


def _numbered(blocks: Sequence[Block]) -> Iterator[Sign]:
    yield from ((f"program number O{block.program}", block.line) for block in blocks
                if block.program is not None)


def _values(block: Block) -> Iterator[Value]:
    yield from (word.value for word in block.words)
    for assignment in block.assignments:
        yield Parameter(assignment.index)
        yield assignment.value


def _named(value: Value | None) -> bool:
    """Whether a #<name> stands anywhere in a value."""
    match value:
        case Name():
            return True
        case Parameter(index):
            return _named(index)
        case Signed(_, inner):
            return _named(inner)
        case Call(_, argument, second):
            return _named(argument) or _named(second)
        case Chain(values, _):
            return any(_named(each) for each in values)
    return False


def _trade(title: str, blind: str) -> Callable[[str, int], Family]:
    return lambda what, line: Family("", title, f"{what} on line {line}", line, blind)


def _control(dialect: str, title: str) -> Callable[[str, int], Family]:
    return lambda what, line: Family(dialect, title, f"{what} on line {line}", line)


# the most telling first: how it shows, how often it must, what it then is
SIGNS: tuple[tuple[Callable[[Sequence[Block]], Iterator[Sign]], int, Callable[[str, int], Family]], ...] = (
    (_printer, FEW, _trade("a path for a 3D printer", "heating, and the material that is laid down")),
    (_turning, FEW, _trade("a program for a lathe", "turning: the work turns, and X counts a diameter")),
    (_wire, FEW, _trade("a program for cutting with a wire", "the wire's second end (U and V)")),
    (_laser, FEW, _trade("a program for a laser", "the beam: S is its power, and nothing is milled")),
    (_labelled, 1, _control("labelled", "a control with labelled flow (O words)")),
    (_macros, 1, _control("usermacro", "a control with user macros")),
    (_tape, 1, _control("tape", "a control of the older tape code sets")),
    (_cornered, 1, _control("usermacro", "a control with user macros")),
    (_assigned, 1, _control("standard", "a control that calculates")),
    (_numbered, 1, _control("usermacro", "a control that numbers its programs")),
)
