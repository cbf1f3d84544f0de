"""How far counters can be counted within a program's budget, and the numbers at which they may stop.

The law: never too little. A parameter that each of its lines sets to itself plus or less something that is
itself within limits, or to something that is, cannot come farther from zero than all the lines that the
budget allows can bring it; for any other there is no limit here.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from math import inf, nextafter
from typing import TYPE_CHECKING

from .dependence import ARGUMENTS, MACROS, Var, bare, reads, target_of
from .dialect import Dialect
from .narrowing import numbers_of
from .ranges import Range, Ranges, range_of
from .written import Block, Call, Chain, Name, Number, Signed, Value, Word

if TYPE_CHECKING:
    from .flow import Course

FARTHEST = 1e150  # so that no product of two of them is beyond all numbers
ROUNDS, MOST_MARKS = 4, 1000


def marks(blocks: Iterable[Block]) -> list[float]:
    """The program's own numbers, and what lies next to them: where ranges are likely to end."""
    found = {0.0}
    for block in blocks:
        asked = block.flow.values if block.flow is not None else ()
        for value in (*(each.value for each in block.assignments), *asked):
            found.update(numbers_of(value))
        if len(found) > MOST_MARKS:
            break
    return sorted({near for x in found
                   for near in (nextafter(x, -inf), x, nextafter(x, inf), x - 1.0, x + 1.0)})


def limits(course: Course, held: Sequence[Ranges]) -> dict[Var, float]:
    """The farthest from zero that parameters come which hold these now."""
    rule = course.control.rule
    often = 10.0 * rule("flow.max_moves") * rule("flow.max_steps")  # lines that can be run in all
    settings, found = _settings(course.blocks), dict[Var, float]()
    for _ in range(ROUNDS):
        ranges: Ranges = {var: Range(-most, most) for var, most in found.items()}
        for var in {var for each in held for var in each} - found.keys():
            most = max(each[var].largest for each in held if var in each)
            for value in (*settings.get(var, ()), *(settings.get(None, ()) if isinstance(var, int) else ())):
                most = max(most, _reach(var, value, ranges, often, course.control.dialect, most))
            if most < FARTHEST:
                found[var] = most
        if len(found) == len(ranges):
            break
    return found


def _reach(var: Var, value: Value, ranges: Ranges, often: float, dialect: Dialect, begin: float) -> float:
    """How far one setting can bring a parameter that begins at no more than `begin`."""
    value = bare(value)
    if isinstance(value, Chain) and set(value.operators) <= {"+", "-"} and var in reads(value):
        terms = list(zip(("+", *value.operators), value.values, strict=True))
        itself = [term for term in terms if term[0] == "+" and reads(term[1]) == {var}
                  and not isinstance(bare(term[1]), Chain | Call | Signed)]
        if len(itself) == 1:
            terms.remove(itself[0])
            return begin + often * sum(range_of(each, ranges, dialect).largest for _, each in terms)
    return range_of(value, ranges, dialect).largest


def _settings(blocks: Iterable[Block]) -> dict[Var | None, list[Value]]:
    """What parameters are set to, anywhere; under None what any of them may be set to."""
    found: dict[Var | None, list[Value]] = {}
    for block in blocks:
        for index, value in _set_by(block):
            found.setdefault(index, []).append(value)
    return found


def _set_by(block: Block) -> Iterator[tuple[Var | None, Value]]:
    for each in block.assignments:
        yield each.index.text if isinstance(each.index, Name) else target_of(each.index), each.value
    if block.flow is not None and block.flow.step == "CALL":
        values = block.flow.values
        yield from ((n, values[n - 1] if n <= len(values) else Number(0.0)) for n in range(1, 31))
    for word in _arguments(block):
        yield ARGUMENTS[word.letter], word.value


def _arguments(block: Block) -> list[Word]:
    """What a macro call gives to its subprogram."""
    macro = any(w.letter == "G" and not (isinstance(w.value, Number) and w.value.value not in MACROS)
                for w in block.words)
    return [w for w in block.words if macro and w.letter in ARGUMENTS]
