"""What a written value comes to, under a dialect's rules.

The law: NIST IR 6556, 3.3.2: what binds first is the dialect's (`expr.levels`), operators of one level go
strictly from left to right, angles are degrees. NaN stands for what only the machine knows: whatever is
calculated from it is NaN too, never zero. A value that cannot be calculated raises BadValue.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache
from itertools import chain
from math import floor, isfinite, isnan, nan
from operator import add, eq, ge, gt, le, lt, mul, ne, sub
from typing import Protocol

from .dialect import Dialect
from .written import Call, Chain, Name, Number, Parameter, Signed, Value

NEAR = 0.0001  # as near to a whole number as counts as one [3.3.2.1]
FIRST, LAST = 1, 5399  # parameters that there are [3.3.2.2]
MACHINES = ("_hal[", "_ini[")  # names that the machine itself fills
LARGEST_BITS = 2**53  # whole numbers beyond it are not exact


class BadValue(Exception):
    """A value that cannot be calculated: its condition in a dialect, what is wrong, what to write."""

    def __init__(self, condition: str, what: str, fix: str) -> None:
        super().__init__(what)
        self.condition, self.what, self.fix = condition, what, fix


class Empty(BadValue):
    """A parameter that was never set, where such a one is no zero: its word is not there."""


class Memory(Protocol):
    """What parameters hold: `get` gives NaN for what only the machine knows, None for what was never set.
    A text is the name of a #<name>."""

    def get(self, index: int | str) -> float | None: ...


def evaluate(value: Value, parameters: Memory, dialect: Dialect) -> float:
    """The number that a value comes to; NaN where only the machine knows it. Raises BadValue."""
    return Reckoner(parameters, dialect).value(value)


def doubts(value: Value, parameters: Memory, dialect: Dialect) -> tuple[str, ...]:
    """The dialect's unconfirmed keys whose other values would make another number of this value."""
    return tuple(key for key in sorted(touched(value) & dialect.alternatives.keys())
                 if any(_differ(value, parameters, dialect, other) for other in dialect.variants[key]))


@lru_cache(4096)
def touched(value: Value) -> frozenset[str]:
    """The keys that could decide what a value comes to, by what is written in it."""
    match value:
        case Parameter(index):
            return touched(index) | {"expr.undefined"}
        case Signed(_, inner):
            return touched(inner)
        case Call(name, argument, second):
            inner = touched(argument) | (touched(second) if second is not None else frozenset())
            return inner | {OF_CALLS[name]} if name in OF_CALLS else inner
        case Chain(values, operators):
            keys = {"expr.levels"} if len(set(operators)) > 1 else set()
            keys |= {"expr.logic"} if LOGIC & set(operators) else set()
            return frozenset(keys).union(*map(touched, values))
    return frozenset()


def _differ(value: Value, parameters: Memory, one: Dialect, other: Dialect) -> bool:
    here, there = _outcome(value, parameters, one), _outcome(value, parameters, other)
    if isinstance(here, float) and isinstance(there, float):
        same = math.isclose(here, there, rel_tol=1e-12, abs_tol=1e-12) or (isnan(here) and isnan(there))
        return not same
    return here != there


def _outcome(value: Value, parameters: Memory, dialect: Dialect) -> float | str:
    try:
        return evaluate(value, parameters, dialect)
    except BadValue as bad:
        return bad.condition


class Reckoner:
    """Calculates values of one line: parameters as they were before it."""

    def __init__(self, parameters: Memory, dialect: Dialect) -> None:
        self.parameters = parameters
        self.dialect = dialect

    def value(self, value: Value) -> float:
        match value:
            case Number(number):
                return number
            case Parameter(index):
                return self.parameter(index)
            case Signed(sign, inner):
                return sign * self.value(inner)
            case Call(name, argument, second):
                return self.call(name, argument, second)
            case Chain(values, operators):
                return self.chain([self.value(each) for each in values], list(operators))
            case Name(text):
                return self.named(text)

    def parameter(self, written: Value) -> float:
        if isinstance(written, Name):
            return self.named(written.text)
        index = self.value(written)
        if isnan(index):
            return nan
        number = round(index) if isfinite(index) else 0
        if abs(index - number) > NEAR or not FIRST <= number <= LAST:
            raise BadValue("parameter-index", f"#{index:g} is no parameter: they run from {FIRST} to {LAST}",
                           f"Write a whole number from {FIRST} to {LAST} behind #")
        held = self.parameters.get(number)
        return self.undefined(number) if held is None else held

    def named(self, name: str) -> float:
        """#<name>; what the machine keeps (#<_hal[…]>, #<_ini[…]…>) is known at run time only."""
        held = nan if name.startswith(MACHINES) else self.parameters.get(name)
        if held is None:
            raise BadValue("parameter-undefined", f"#<{name}> was never set", f"Set it before: #<{name}>=…")
        return held

    def exists(self, argument: Value) -> float:
        inner = argument.values[0] if isinstance(argument, Chain) and not argument.operators else argument
        if not isinstance(inner, Parameter):
            raise BadValue("domain", "EXISTS asks for a parameter", "Write EXISTS[#<name>]")
        index = inner.index.text if isinstance(inner.index, Name) else round(self.value(inner.index))
        return float(self.parameters.get(index) is not None)

    def undefined(self, number: int) -> float:
        rule = self.dialect["expr.undefined"]
        if rule == "zero":
            return 0.0
        kind = Empty if rule == "empty" else BadValue
        raise kind("parameter-undefined", f"#{number} was never set", f"Set it before: #{number}=…")

    # --- operators ---

    def chain(self, values: list[float], operators: list[str]) -> float:
        for level in self.dialect["expr.levels"]:
            values, operators = self._level(values, operators, level)
        if operators:
            raise BadValue("operator-unknown", f"{operators[0]} is no operator here",
                           "Write one of " + ", ".join(chain.from_iterable(self.dialect["expr.levels"])))
        return values[0]

    def _level(self, values: list[float], operators: list[str],
               level: list[str]) -> tuple[list[float], list[str]]:
        """All operators of one level carried out, from left to right."""
        done, left = values[:1], []
        for operator, operand in zip(operators, values[1:], strict=True):
            if operator in level:
                done[-1] = self.operate(operator, done[-1], operand)
            else:
                done.append(operand)
                left.append(operator)
        return done, left

    def operate(self, operator: str, left: float, right: float) -> float:
        if isnan(left) or isnan(right):
            return nan
        if operator in LOGIC and self.dialect["expr.logic"] == "bitwise":
            return float(BITS[operator](_bits(left), _bits(right)))
        return _finite(float(OPERATORS[operator](left, right)), operator)

    # --- functions ---

    def call(self, name: str, argument: Value, second: Value | None) -> float:
        if name == "EXISTS":
            return self.exists(argument)
        value = self.value(argument)
        if name == "ATAN":
            return self.atan(value, second)
        if isnan(value):
            return nan
        if name in ("FIX", "FUP") and self.dialect["expr.fix_fup"] == "zero" and value < 0:
            name = "FUP" if name == "FIX" else "FIX"
        return _finite(FUNCTIONS[name](value), name)

    def atan(self, y: float, second: Value | None) -> float:
        x = 1.0 if second is None else self.value(second)
        angle = math.degrees(math.atan2(y, x))
        return angle % 360.0 if self.dialect["expr.atan"] == "positive" and second is not None else angle


def _finite(number: float, name: str) -> float:
    if not isfinite(number):
        raise BadValue("value-not-finite", f"{name} gives a number that is larger than any",
                       "Use smaller numbers")
    return number


def _bits(number: float) -> int:
    if abs(number - round(number)) > NEAR or abs(number) > LARGEST_BITS:
        raise BadValue("domain", f"AND, OR and XOR work on whole numbers here, and {number:g} is none",
                       "Write whole numbers on both sides")
    return round(number)


def _divide(left: float, right: float) -> float:
    if right == 0:
        raise BadValue("division-by-zero", f"{left:g} is divided by zero",
                       "Make sure that the divisor is not 0")
    return left / right


def _modulo(left: float, right: float) -> float:
    """Never negative [practice of the published reference; the report leaves the sign open]."""
    if right == 0:
        raise BadValue("division-by-zero", f"{left:g} MOD 0 does not exist",
                       "Make sure that the divisor is not 0")
    return left % abs(right)


def _power(left: float, right: float) -> float:
    if left < 0 and right != round(right):
        raise BadValue("domain", f"{left:g} ** {right:g}: a negative number has no such power",
                       "Use a whole power, or a base over 0")
    if left == 0 and right < 0:
        raise BadValue("division-by-zero", f"0 ** {right:g} divides by zero", "Use a base that is not 0")
    return _steep(lambda: left**right)


def _steep(calculate: Callable[[], float]) -> float:
    """Growth beyond all numbers is infinite, not an accident."""
    try:
        return calculate()
    except OverflowError:
        return math.inf


def _within(name: str, lowest: float, highest: float,
            function: Callable[[float], float]) -> Callable[[float], float]:
    def calculate(value: float) -> float:
        if not lowest <= value <= highest:
            bounds = f"from {lowest:g} to {highest:g}" if isfinite(highest) else "of 0 or more"
            raise BadValue("domain", f"{name} of {value:g} does not exist", f"Give {name} a value {bounds}")
        return function(value)
    return calculate


def _ln(value: float) -> float:
    if value <= 0:
        raise BadValue("domain", f"LN of {value:g} does not exist", "Give LN a value over 0")
    return math.log(value)


def _tan(degrees: float) -> float:
    if degrees % 180 == 90:
        raise BadValue("domain", f"TAN of {degrees:g} degrees does not exist", "Use another angle")
    return math.tan(math.radians(degrees))


def _round(value: float) -> float:
    """Halves away from zero; never off by the sum's own rounding, as floor(v + 0.5) is."""
    whole = math.trunc(value)
    return float(whole + math.copysign(1, value) if abs(value - whole) >= 0.5 else whole)


OF_CALLS = {"FIX": "expr.fix_fup", "FUP": "expr.fix_fup", "ATAN": "expr.atan"}
LOGIC = frozenset({"AND", "OR", "XOR"})
BITS: dict[str, Callable[[int, int], int]] = {
    "AND": lambda a, b: a & b, "OR": lambda a, b: a | b, "XOR": lambda a, b: a ^ b}
OPERATORS: dict[str, Callable[[float, float], float]] = {
    "**": _power, "*": mul, "/": _divide, "MOD": _modulo, "+": add, "-": sub,
    "AND": lambda a, b: float(a != 0 and b != 0), "OR": lambda a, b: float(a != 0 or b != 0),
    "XOR": lambda a, b: float((a != 0) != (b != 0)),
    "EQ": eq, "NE": ne, "GT": gt, "GE": ge, "LT": lt, "LE": le,
}
FUNCTIONS: dict[str, Callable[[float], float]] = {
    "ABS": abs, "EXP": lambda v: _steep(lambda: math.exp(v)), "LN": _ln,
    "SQRT": _within("SQRT", 0, math.inf, math.sqrt),
    "SIN": lambda v: math.sin(math.radians(v)), "COS": lambda v: math.cos(math.radians(v)), "TAN": _tan,
    "ASIN": _within("ASIN", -1, 1, lambda v: math.degrees(math.asin(v))),
    "ACOS": _within("ACOS", -1, 1, lambda v: math.degrees(math.acos(v))),
    "FIX": lambda v: float(floor(v)), "FUP": lambda v: float(math.ceil(v)), "ROUND": _round,
}
