"""Counters that drift away from the end of their loop: whether what has changed will ever matter.

The law: let D be what a loop hangs on (endless.py). Some of D may have changed since the mark, each of these
m only by m = m ± a fixed number, and asked for only in comparisons with what has not changed. Adding keeps
the order of numbers, also when it rounds. So if m has grown since the mark, it never shrinks again at the
same line of a later turn, and a comparison that it won on the upper side is won for ever (falling: the mirror
image). Steps are small, so that no sum overflows.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import copysign, isfinite, nan

from .dependence import ANY, Edge, Leaning, Var, bare, parted, reaches, reads
from .parameters import is_live
from .written import Chain, Number, Parameter, Value

LARGEST_STEP, FARTHEST = 1e9, 1e100
LARGEST_TIMES, LARGEST_WHOLE = 1e3, 2.0**40
LOCALS = range(1, 34)  # hidden and given by calls
Plain = dict[int, float]  # parameters by number
Names = dict[str, float]  # and by name


@dataclass(frozen=True, slots=True)
class Asked:
    """A comparison on a line: its left side less its right is a sum of those that have changed, each so many
    times (`terms`), and of what has not (`fixed`). single: one of them stands alone on a side."""

    line: int
    terms: tuple[tuple[Var, float], ...]
    fixed: tuple[Value, ...]
    sides: tuple[Value, Value]
    operator: str
    single: bool


class Hung:
    """On what a trace of `count` lines hangs: parameters (`on`), its lines' leanings and edges; `calls`:
    whether subprograms get parameters of their own; `asked`: the comparisons that ask for a few of `on`."""

    def __init__(self, count: int, on: frozenset[Var], leans: list[Leaning], edges: list[Edge],
                 calls: bool) -> None:
        self.count, self.on, self.leans, self.edges, self.calls = count, on, leans, edges, calls
        self.numbers = sorted(v for v in on if isinstance(v, int))
        self.names = sorted(v for v in on if isinstance(v, str))
        self.asked: dict[tuple[Var, ...], list[Asked] | None] = {}
        self.again: dict[tuple[Var, ...], int] = {}  # from which jump on it is asked again

    def moved(self, before: Plain, called: Names, plain: Plain, names: Names) -> tuple[Var, ...]:
        """What it hangs on and has changed: from `before` and `called` to `plain` and `names`."""
        return (*[v for v in self.numbers if not same(plain.get(v), before.get(v))],
                *[v for v in self.names if not same(names.get(v), called.get(v))])


def all_asked(moved: tuple[Var, ...], hung: Hung, plain: Plain, names: Names) -> list[Asked] | None:
    """The comparisons that ask for those that have changed; None where these change, or are asked for, in
    another way than the law has it."""
    fixed = {var for edge in hung.edges for var in edge.sources if not any(
        reaches(each, {var}) for each in hung.edges) and abs(held(var, plain, names) or nan) <= LARGEST_STEP}
    if ANY in hung.on or not all(_steps_only(each, hung, fixed) for each in moved):
        return None
    every = []
    for each in hung.leans:
        if each.decides.isdisjoint(moved):
            continue
        if not each.conditions:
            return None
        for line, value in each.conditions:
            if reads(value).isdisjoint(moved):
                continue
            asked = _comparison(line, value, frozenset(moved))
            if asked is None:
                return None
            every.append(asked)
    return every


def _steps_only(var: Var, hung: Hung, fixed: set[Var]) -> bool:
    """Whether a parameter changes by fixed steps only, and nothing else that counts comes from it."""
    if isinstance(var, int) and is_live(var):
        return False
    if hung.calls and (isinstance(var, str) or var in LOCALS):
        return False
    for edge in hung.edges:
        if not reaches(edge, hung.on):
            continue
        if edge.target == var or edge.target == ANY:
            if not _a_step(edge, var, fixed):
                return False
        elif var in edge.sources:
            return False
    return True


def _a_step(edge: Edge, var: Var, fixed: set[Var]) -> bool:
    value = None if edge.value is None else bare(edge.value)
    if not (isinstance(value, Chain) and value.operators in (("+",), ("-",)) and edge.target == var):
        return False
    left, right = map(bare, value.values)
    if value.operators == ("+",) and _is(right, var):
        left, right = right, left
    return _is(left, var) and _is_fixed(right, fixed)


def _is_fixed(value: Value, fixed: set[Var]) -> bool:
    """Whether a step is a number, or a parameter that no line of the trace sets, and of fair size."""
    if isinstance(value, Number):
        return abs(value.value) <= LARGEST_STEP
    return isinstance(value, Parameter) and len(reads(value)) == 1 and reads(value) <= fixed


def stays(asked: Asked, way: float, sides: set[tuple[int, int]]) -> bool:
    """Whether a comparison comes out the same from now on, its left side less the right growing (way over 0),
    falling or standing still; `sides` as `side_of` has them, by line."""
    if (asked.line, 2) in sides:
        return False
    if way == 0:
        return True
    if (asked.line, -1 if way > 0 else 1) in sides:
        return False
    return (asked.line, 0) not in sides or asked.operator in (("GE", "LT") if way > 0 else ("LE", "GT"))


def _comparison(line: int, value: Value, moved: frozenset[Var]) -> Asked | None:
    """A comparison whose sides are sums of those that have changed and of what has not."""
    sides = parted(value)
    if sides is None:
        return None
    left, operator, right = sides
    terms: dict[Var, float] = {}
    fixed: list[Value] = []
    if not (_sum(left, 1.0, moved, terms, fixed) and _sum(right, -1.0, moved, terms, fixed)):
        return None
    single = len(terms) == 1 and any(isinstance(side, Parameter) and reads(side) & moved and
                                     reads(other).isdisjoint(moved)
                                     for side, other in ((left, right), (right, left)))
    return Asked(line, tuple(terms.items()), tuple(fixed), (left, right), operator, single)


def _sum(value: Value, times: float, moved: frozenset[Var], terms: dict[Var, float],
         fixed: list[Value]) -> bool:
    """Adds a value's parts, so many times, to `terms` and `fixed`; whether it is such a sum."""
    value = bare(value)
    if reads(value).isdisjoint(moved):
        fixed.append(value)
        return True
    if isinstance(value, Parameter) and len(reads(value)) == 1:
        var = next(iter(reads(value)))
        terms[var] = terms.get(var, 0.0) + times
        return True
    if not isinstance(value, Chain):
        return False
    if value.operators == ("*",):
        one, two = map(bare, value.values)
        one, two = (two, one) if isinstance(two, Number) else (one, two)
        whole = isinstance(one, Number) and abs(one.value) <= LARGEST_TIMES and one.value.is_integer()
        return isinstance(one, Number) and whole and _sum(two, times * one.value, moved, terms, fixed)
    if not set(value.operators) <= {"+", "-"}:
        return False
    return all(
        _sum(each, times if sign == "+" else -times, moved, terms, fixed)
        for sign, each in zip(("+", *value.operators), value.values, strict=True))


def is_exact(number: float | None) -> bool:
    """A whole number to which many others can be added without rounding."""
    return number is not None and abs(number) <= LARGEST_WHOLE and number.is_integer()


def _is(value: Value, var: Var) -> bool:
    return isinstance(value, Parameter) and reads(value) == {var}


def held(var: Var, plain: Plain, names: Names) -> float | None:
    """What a parameter holds, None for one that was never set."""
    return plain.get(var) if isinstance(var, int) else names.get(var)


def same(one: float | None, two: float | None) -> bool:
    """The same number to the bit; what is not known is the same as what is not known."""
    if one is None or two is None or one != one or two != two:
        return one is two or (one is not None and two is not None and one != one and two != two)
    return one == two and (one != 0 or copysign(1.0, one) == copysign(1.0, two))


def side_of(left: float, right: float) -> int:
    """The sign of left less right, 2 where one of them is not known."""
    if not (isfinite(left) and isfinite(right)):
        return 2
    return (left > right) - (left < right)
