"""The programs that one file holds: where each begins, which are run by themselves and which are called.

The law: a program number or a % begins a part of the file. A part that is called, or that only returns (M99),
is a subprogram; every other one with words in it is a program of its own.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from .outline import Outline
from .written import Block, Number

ENDS, RETURNS = frozenset({"M2", "M30"}), frozenset({"M99"})
CALLS = frozenset({"M98", "G65", "G66"})
DIGITS = 10_000  # an older form of M98 has repeats before the last four digits


@dataclass(frozen=True, slots=True)
class Section:
    """Positions `begin` to `stop` - 1 of the block list; its number or first word is on `line`. number: its O
    number, None where it has none · main: it is a program of its own · called: some line calls it."""

    begin: int
    stop: int
    line: int
    number: int | None
    main: bool
    called: bool = False

    @property
    def name(self) -> str:
        """As a person tells it from the others: "O12", or "line 40"."""
        return f"line {self.line}" if self.number is None else f"O{self.number}"


def named(parts: Sequence[Section], most: int = 4) -> str:
    """Their names, the first few of many."""
    shown = ", ".join(part.name for part in parts[:most])
    return shown if len(parts) <= most else f"{shown} and {len(parts) - most} more"


def sections(blocks: Sequence[Block], drawn: Outline) -> tuple[Section, ...]:
    """The parts of a file that have words, in order; a file with one program is one part."""
    begins = [at for at in sorted(drawn.begins) if at < len(blocks) and not drawn.calls_by_label(blocks[at])]
    parts = [(a, b) for a, b in pairwise([0, *(at for at in begins if at), len(blocks)])
             if any(map(_does, blocks[a:b]))]
    if len(parts) < 2:
        return tuple(_section(blocks, a, b) for a, b in parts)
    called = frozenset(_called(blocks))
    found = [_section(blocks, a, b, called) for a, b in parts]
    if not any(part.main for part in found):
        found[0] = replace(found[0], main=True)
    return tuple(found)


def _section(blocks: Sequence[Block], begin: int, stop: int, called: frozenset[int] | None = None) -> Section:
    """The part of that begin; a % stands before its program's number."""
    part = blocks[begin:stop]
    number = next((block.program for block in part if block.program is not None), None)
    line = next(block.line for block in part if _does(block) or block.program is not None)
    if called is None:
        return Section(begin, stop, line, number, True)
    codes = frozenset(_codes(part))
    returns = bool(codes & RETURNS) and not codes & ENDS
    return Section(begin, stop, line, number, not returns and number not in called, number in called)


def _does(block: Block) -> bool:
    return bool(block.words or block.assignments or block.flow or block.bad)


def _codes(blocks: Sequence[Block]) -> Iterator[str]:
    """The codes among the words, those that are calculated left out."""
    for block in blocks:
        for word in block.words:
            if word.letter in "MG" and isinstance(word.value, Number):
                yield f"{word.letter}{word.value.value:g}"


def _called(blocks: Sequence[Block]) -> Iterator[int]:
    """The numbers of programs that are called somewhere, in each way that P can be read."""
    for block in blocks:
        if CALLS.isdisjoint(_codes([block])):
            continue
        for word in block.words:
            if word.letter == "P" and isinstance(word.value, Number) and word.value.value < 1e9:
                yield from (round(word.value.value), round(word.value.value) % DIGITS)
