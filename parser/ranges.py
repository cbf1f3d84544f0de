"""Ranges of numbers, calculated as numbers are: what an expression can come to, whatever its parameters hold.

The law: never too narrow. If every parameter lies in its range, the value lies in the value's range,
rounding and all (rounding keeps the order of numbers; functions of the system's library get a margin).
`sure` says that there is a number at all: a value that may fail, overflow or be known to the machine only
is not sure.
Interval arithmetic as in R. E. Moore, Interval Analysis, 1966; from memory.
"""

from __future__ import annotations

from collections.abc import Callable
from math import exp, floor, inf, isnan, log, nextafter, sqrt
from typing import NamedTuple

from .arithmetic import FUNCTIONS, LOGIC, _round
from .dependence import Var, bare, target_of
from .dialect import Dialect
from .expressions import MACHINES
from .parameters import is_live
from .written import Call, Chain, Name, Number, Parameter, Signed, Value

MARGIN = 1e-12  # of a function's value: far more than a library is off
LARGEST_EXP = 700.0


class Range(NamedTuple):
    """From low to high, both among them. whole: whole numbers only · sure: it is a number."""

    low: float
    high: float
    whole: bool = False
    sure: bool = True

    @property
    def largest(self) -> float:
        return max(abs(self.low), abs(self.high))

    @property
    def single(self) -> bool:
        return self.sure and self.low == self.high

    def doubtful(self) -> Range:
        return Range(self.low, self.high, self.whole, False)


EVERY = Range(-inf, inf, sure=False)
BIT = Range(0.0, 1.0, True)
Ranges = dict[Var, Range]  # of parameters


def one(number: float) -> Range:
    """A number that is known; NaN is one that is not."""
    return EVERY if isnan(number) else Range(number, number, number.is_integer())


def span(low: float, high: float, whole: bool, sure: bool) -> Range:
    """Not sure where it reaches beyond all numbers."""
    low, high = -inf if isnan(low) else low, inf if isnan(high) else high
    return Range(low, high, whole, sure and -inf < low and high < inf)


def hull(a: Range, b: Range) -> Range:
    """The least range that holds both."""
    return Range(min(a.low, b.low), max(a.high, b.high), a.whole and b.whole, a.sure and b.sure)


def range_of(value: Value, ranges: Ranges, dialect: Dialect) -> Range:
    """What a value can come to where each parameter lies in its range of `ranges`."""
    match value:
        case Number(number):
            return one(number)
        case Parameter(Name(text)) | Name(text):
            return EVERY if text.startswith(MACHINES) else ranges.get(text, EVERY)
        case Parameter(index):
            number = target_of(index)
            return EVERY if number is None or is_live(number) else ranges.get(number, EVERY)
        case Signed(sign, inner):
            low, high, whole, sure = range_of(inner, ranges, dialect)
            return Range(low, high, whole, sure) if sign > 0 else Range(-high, -low, whole, sure)
        case Call(name, argument, second):
            return _call(name, argument, second, ranges, dialect)
        case Chain(values, operators):
            return _chain([(range_of(each, ranges, dialect), bare(each)) for each in values], list(operators),
                          dialect)[0]
    return EVERY


# --- operators ---

Term = tuple[Range, Value | None]  # with what is written, as long as it is


def _chain(values: list[Term], operators: list[str], dialect: Dialect) -> Term:
    """Level by level, each from left to right."""
    for level in dialect["expr.levels"]:
        done, left = values[:1], []
        for operator, operand in zip(operators, values[1:], strict=True):
            if operator in level:
                (a, first), (b, second) = done[-1], operand
                same = first is not None and first == second
                done[-1] = (_with_itself if same else _operated)(operator, a, b, dialect), None
            else:
                done.append(operand)
                left.append(operator)
        values, operators = done, left
    return (EVERY, None) if operators else values[0]


def _operated(operator: str, a: Range, b: Range, dialect: Dialect) -> Range:
    if operator in LOGIC:
        return _logic(operator, a, b, dialect["expr.logic"] == "bitwise")
    done = OPERATED[operator](a, b) if operator in OPERATED else EVERY
    return done if a.sure and b.sure else done.doubtful()


def _with_itself(operator: str, a: Range, b: Range, dialect: Dialect) -> Range:
    """A value and the same value again: what ranges alone do not see."""
    if operator in ("EQ", "GE", "LE"):
        return Range(1.0, 1.0, True, a.sure)
    if operator in ("NE", "GT", "LT", "-"):
        return Range(0.0, 0.0, True, a.sure)
    if operator == "*":
        least = 0.0 if a.low <= 0 <= a.high else min(a.low * a.low, a.high * a.high)
        return span(least, a.largest * a.largest, a.whole, a.sure)
    return _operated(operator, a, b, dialect)


def _add(a: Range, b: Range) -> Range:
    return span(a.low + b.low, a.high + b.high, a.whole and b.whole, True)


def _subtract(a: Range, b: Range) -> Range:
    return span(a.low - b.high, a.high - b.low, a.whole and b.whole, True)


def _multiply(a: Range, b: Range) -> Range:
    corners = [0.0 if 0 in (x, y) else x * y for x in a[:2] for y in b[:2]]  # no number is infinite
    return span(min(corners), max(corners), a.whole and b.whole, True)


def _divide(a: Range, b: Range) -> Range:
    if b.low <= 0 <= b.high:
        return EVERY
    corners = [x / y for x in a[:2] for y in b[:2]]
    return EVERY if any(map(isnan, corners)) else span(min(corners), max(corners), False, True)


def _modulo(a: Range, b: Range) -> Range:
    """Never negative; below the divisor, but where a negative number is rounded up to it."""
    if b.low <= 0 <= b.high:
        return EVERY
    high = b.largest
    if a.whole and b.whole:
        high -= 1.0
    elif a.low >= 0:
        high = nextafter(high, 0.0)
    return span(0.0, min(high, a.high) if a.low >= 0 else high, a.whole and b.whole, True)


def _power(a: Range, b: Range) -> Range:
    """A power by a whole number that is written out."""
    if not (b.single and b.whole and 0 < b.low <= 64) or a.largest > 1e4:
        return EVERY
    ends = sorted((a.low ** b.low, a.high ** b.low))
    if b.low % 2 == 0 and a.low <= 0 <= a.high:
        ends[0] = 0.0
    return _roughly(ends[0], ends[1], a.whole)


def _compared(a: Range, b: Range, low: bool, high: bool, equal: bool) -> Range:
    """A comparison that holds where the left side is lower, higher, or equal."""
    may = []
    if a.low < b.high:
        may.append(low)
    if a.high > b.low:
        may.append(high)
    if a.low <= b.high and b.low <= a.high and not _never_meet(a, b):
        may.append(equal)
    return Range(float(all(may)), float(any(may)), True)


def _never_meet(a: Range, b: Range) -> bool:
    """Whether one is whole and the other a number that is not."""
    return any(x.whole and y.low == y.high and not y.low.is_integer() for x, y in ((a, b), (b, a)))


def _logic(operator: str, a: Range, b: Range, bitwise: bool) -> Range:
    sure, bits = a.sure and b.sure, all(x.whole and x.low >= 0 and x.high <= 1 for x in (a, b))
    if bitwise and not bits:
        return EVERY
    left, right = _truths(a), _truths(b)
    made = [{"AND": x and y, "OR": x or y, "XOR": x != y}[operator] for x in left for y in right]
    return Range(float(all(made)), float(any(made)), True, sure)


def _truths(a: Range) -> list[bool]:
    """Whether it can be true, can be false."""
    return [truth for truth, may in ((True, (a.low, a.high) != (0, 0)), (False, a.low <= 0 <= a.high)) if may]


OPERATED: dict[str, Callable[[Range, Range], Range]] = {
    "+": _add, "-": _subtract, "*": _multiply, "/": _divide, "MOD": _modulo, "**": _power,
    "EQ": lambda a, b: _compared(a, b, low=False, high=False, equal=True),
    "NE": lambda a, b: _compared(a, b, low=True, high=True, equal=False),
    "LT": lambda a, b: _compared(a, b, low=True, high=False, equal=False),
    "LE": lambda a, b: _compared(a, b, low=True, high=False, equal=True),
    "GT": lambda a, b: _compared(a, b, low=False, high=True, equal=False),
    "GE": lambda a, b: _compared(a, b, low=False, high=True, equal=True)}


# --- functions ---

def _roughly(low: float, high: float, whole: bool = False) -> Range:
    """With the margin; a value that cannot be negative stays so."""
    least = low - abs(low) * MARGIN
    return span(least, high + abs(high) * MARGIN, whole, True)


def _call(name: str, argument: Value, second: Value | None, ranges: Ranges, dialect: Dialect) -> Range:
    if name == "EXISTS":
        return BIT
    a = range_of(argument, ranges, dialect)
    if name == "ATAN":
        b = one(1.0) if second is None else range_of(second, ranges, dialect)
        done = _atan(a, b, dialect["expr.atan"] == "positive" and second is not None)
        return done if b.sure and a.sure else done.doubtful()
    if name in ("FIX", "FUP") and dialect["expr.fix_fup"] == "zero":
        name = f"{name} toward zero"
    done = CALLED[name](a) if name in CALLED else EVERY
    return done if a.sure else done.doubtful()


def _atan(y: Range, x: Range, positive: bool) -> Range:
    if x.low > 0 and y.low >= 0:
        return Range(0.0, 90.0)
    if x.low > 0 and not positive:
        return Range(-90.0, 90.0)
    return Range(0.0, 360.0) if positive else Range(-180.0, 180.0)


def _absolute(a: Range) -> Range:
    least = 0.0 if a.low <= 0 <= a.high else min(abs(a.low), abs(a.high))
    return Range(least, a.largest, a.whole)


def _rounded(function: Callable[[float], float]) -> Callable[[Range], Range]:
    """A function that gives whole numbers and keeps their order."""
    def done(a: Range) -> Range:
        low, high = (v if v in (inf, -inf) else function(v) for v in (a.low, a.high))
        return span(low, high, True, True)

    return done


def _where(a: Range, low: float, high: float, done: Callable[[], Range]) -> Range:
    """A function that exists from `low` to `high` only."""
    return done() if low <= a.low and a.high <= high else EVERY


CALLED: dict[str, Callable[[Range], Range]] = {
    "ABS": _absolute, "SIN": lambda a: Range(-1.0, 1.0), "COS": lambda a: Range(-1.0, 1.0),
    "ASIN": lambda a: _where(a, -1, 1, lambda: _roughly(-90.0, 90.0)),
    "ACOS": lambda a: _where(a, -1, 1, lambda: Range(0.0, 180.0 + 1e-9)),
    "SQRT": lambda a: _where(a, 0, inf, lambda: Range(sqrt(a.low), sqrt(a.high), False, a.high < inf)),
    "LN": lambda a: _where(a, 5e-324, 1e308, lambda: _roughly(log(a.low), log(a.high))),
    "EXP": lambda a: _where(a, -inf, LARGEST_EXP, lambda: _roughly(exp(a.low), exp(a.high))),
    "ROUND": _rounded(_round), "FIX": _rounded(FUNCTIONS["FIX"]), "FUP": _rounded(FUNCTIONS["FUP"]),
    "FIX toward zero": _rounded(lambda v: float(int(v))),
    "FUP toward zero": _rounded(lambda v: float(floor(v)) if v < 0 else FUNCTIONS["FUP"](v))}
