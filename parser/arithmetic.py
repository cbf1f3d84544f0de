"""Operators and functions of expressions: what each does to numbers, and which numbers it cannot take.

The law: NIST IR 6556, 3.3.2.3 and 3.3.2.4; angles are degrees. A value that does not exist raises BadValue,
and so does one that is larger than any number.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from math import floor, isfinite
from operator import add, eq, ge, gt, le, lt, mul, ne, sub

NEAR = 0.0001  # as near to a whole number as counts as one [3.3.2.1]
LARGEST_BITS = 2**53  # whole numbers beyond it are not exact


class BadValue(Exception):
    """A value that cannot be calculated: its condition in a dialect, what is wrong, what to write."""

    def __init__(self, condition: str, what: str, fix: str) -> None:
        super().__init__(what)
        self.condition, self.what, self.fix = condition, what, fix


class Empty(BadValue):
    """A parameter that was never set, where such a one is no zero: its word is not there."""


def finite(number: float, name: str) -> float:
    if not isfinite(number):
        raise BadValue("value-not-finite", f"{name} gives a number that is larger than any",
                       "Use smaller numbers")
    return number


def bits(number: float) -> int:
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
