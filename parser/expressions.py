"""What a written value comes to, under a dialect's rules.

The law: NIST IR 6556, 3.3.2: what binds first is the dialect's (`expr.levels`), operators of one level go
strictly from left to right, angles are degrees. NaN stands for what only the machine knows: whatever is
calculated from it is NaN too, never zero. A value that cannot be calculated raises BadValue.
"""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import chain
from math import isfinite, isnan, nan
from typing import Protocol

from .arithmetic import BITS, FUNCTIONS, LOGIC, NEAR, OPERATORS, BadValue, Empty, bits, finite
from .dialect import Dialect
from .written import Call, Chain, Name, Number, Parameter, Signed, Value

FIRST = 1  # the lowest parameter [3.3.2.2]
OF_CALLS = {"FIX": "expr.fix_fup", "FUP": "expr.fix_fup", "ATAN": "expr.atan"}
MACHINES = ("_hal[", "_ini[")  # names that the machine itself fills


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
        last = self.dialect["expr.last_parameter"]
        if abs(index - number) > NEAR or not FIRST <= number <= last:
            raise BadValue("parameter-index", f"#{index:g} is no parameter: they run from {FIRST} to {last}",
                           f"Write a whole number from {FIRST} to {last} behind #")
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
            if not operators:
                return values[0]
            if not set(operators).isdisjoint(level):
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
            return float(BITS[operator](bits(left), bits(right)))
        return finite(float(OPERATORS[operator](left, right)), operator)

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
        return finite(FUNCTIONS[name](value), name)

    def atan(self, y: float, second: Value | None) -> float:
        x = 1.0 if second is None else self.value(second)
        angle = math.degrees(math.atan2(y, x))
        return angle % 360.0 if self.dialect["expr.atan"] == "positive" and second is not None else angle
