"""Values made ready: what is written, as a Python function, for lines that run many times.

The law: a ready value gives what `evaluate` gives, bit for bit, where there is nothing to be said of it;
everywhere else it raises one of `NOT_READY`, and is left to `evaluate`. A value that another value of an
unconfirmed key of the dialect reckons in another way is ready once that doubt is noted.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import atan2, degrees, inf, isclose
from typing import Any

from .arithmetic import FUNCTIONS, OPERATORS, BadValue
from .dependence import bare, parted
from .dialect import Dialect
from .expressions import FIRST, MACHINES, touched
from .parameters import is_live
from .reading import Doubt
from .values import UNSET
from .written import Call, Chain, Name, Number, Parameter, Signed, Value

Reckoned = Callable[[dict[int, float], dict[str, float]], Any]  # of parameters by number and by name
MOST_BRACKETS = 100  # within each other Python takes 200
ORDERS = {"EQ": "==", "NE": "!=", "GT": ">", "GE": ">=", "LT": "<", "LE": "<="}


class Unfit(Exception):
    """A value that cannot be made ready, or one that is not finite."""


NOT_READY = (Unfit, KeyError, ZeroDivisionError, BadValue, OverflowError)


def finite(number: float) -> float:
    if number - number == 0.0:
        return number
    raise Unfit


def _rounded(down: str, up: str) -> Callable[[float], float]:
    """FIX or FUP toward zero, or away from it."""
    return lambda value: FUNCTIONS[up if value < 0 else down](value)


KNOWN: dict[str, Any] = {
    "finite": finite, "inf": inf, "power": OPERATORS["**"], "both": OPERATORS["AND"],
    "either": OPERATORS["OR"], "one": OPERATORS["XOR"],
    "FIX_zero": _rounded("FIX", "FUP"), "FUP_zero": _rounded("FUP", "FIX"),
    "atan_signed": lambda y, x: degrees(atan2(y, x)),
    "atan_positive": lambda y, x: degrees(atan2(y, x)) % 360.0, **FUNCTIONS}
NAMED = {"**": "power", "AND": "both", "OR": "either", "XOR": "one"}


class Ready:
    """Makes values ready for one dialect, each once; `noted` are the doubts so far."""

    def __init__(self, dialect: Dialect, noted: Sequence[Doubt] = ()) -> None:
        self.dialect, self.noted = dialect, noted
        self.made: dict[int, tuple[Value, Reckoned | None]] = {}

    def number(self, value: Value, letter: str) -> Reckoned | None:
        """A function of the parameters (by number, by name) that gives the value's number; None for a value
        that is left to `evaluate`. `letter`: of the word, as its doubts have it."""
        return self._kept(value, letter, lambda each, dialect: f"finite({source(each, dialect)})")

    def compared(self, value: Value, step: str) -> Reckoned | None:
        """The same for a condition: (whether it holds, the sign of the left side less the right). None for
        one that is no comparison."""
        return self._kept(value, step, comparison)

    def _kept(self, value: Value, letter: str, write: Callable[[Value, Dialect], str]) -> Reckoned | None:
        kept = self.made.get(id(value))
        if kept is None:  # the value is kept too, so that no other gets its place
            kept = self.made[id(value)] = value, self._made(value, letter, write)
        return kept[1]

    def _made(self, value: Value, letter: str, write: Callable[[Value, Dialect], str]) -> Reckoned | None:
        try:
            text = write(value, self.dialect)
        except Unfit:
            return None
        if text.count("(") > MOST_BRACKETS:
            return None
        keys, variants = (touched(value) - UNSET) & self.dialect.alternatives.keys(), self.dialect.variants
        others = [(key, _function(other)) for key in keys for variant in variants[key]
                  if (other := _written(write, value, variant)) != text]
        made = _function(text)
        return self._held_against(made, others, letter) if others else made

    def _held_against(self, made: Reckoned, others: list[tuple[str, Reckoned]], letter: str) -> Reckoned:
        """A value that is ready where the other readings, each under its key, reckon alike or are noted."""
        left = [*others]

        def reckon(plain: dict[int, float], names: dict[str, float]) -> Any:
            number = made(plain, names)
            for pair in [*left]:
                if not _alike(number, pair[1], plain, names):
                    if not any((doubt.key, doubt.code) == (pair[0], letter) for doubt in self.noted):
                        raise Unfit
                    left.remove(pair)
            return number

        return reckon


def _function(text: str) -> Reckoned:
    return eval(f"lambda p, n: {text}", KNOWN)  # of numbers, operators and names of KNOWN only


def _alike(one: Any, other: Reckoned, plain: dict[int, float], names: dict[str, float]) -> bool:
    """Whether another way to reckon gives the same, as `doubts` has it; not where it cannot."""
    try:
        two = other(plain, names)
    except NOT_READY:
        return False
    return one[0] == two[0] if isinstance(one, tuple) else isclose(one, two, rel_tol=1e-12, abs_tol=1e-12)


def _written(write: Callable[[Value, Dialect], str], value: Value, dialect: Dialect) -> str:
    """As Python text; what cannot be made ready is never alike."""
    try:
        return write(value, dialect)
    except Unfit:
        return "finite(inf)"


def comparison(value: Value, dialect: Dialect) -> str:
    sides = parted(value)
    if sides is None:
        raise Unfit
    left, right = (f"finite({source(each, dialect)})" for each in (sides[0], sides[2]))
    return f"((a := {left}) {ORDERS[sides[1]]} (b := {right}), (a > b) - (a < b))"


def source(value: Value, dialect: Dialect) -> str:
    """A value as Python text. Raises Unfit."""
    match value:
        case Number(number) if number - number == 0.0:
            return repr(number)
        case Parameter(Name(text)) | Name(text) if not text.startswith(MACHINES):
            return f"n[{text!r}]"
        case Parameter(index):
            return _parameter(index, dialect)
        case Signed(sign, inner):
            return f"({sign} * {source(inner, dialect)})"
        case Call(name, argument, second):
            return _call(name, argument, second, dialect)
        case Chain(values, operators):
            return _chain([source(each, dialect) for each in values], list(operators), dialect)
    raise Unfit


def _parameter(index: Value, dialect: Dialect) -> str:
    number = bare(index)
    if not (isinstance(number, Number) and number.value.is_integer()
            and FIRST <= number.value <= dialect["expr.last_parameter"]):
        raise Unfit
    if is_live(int(number.value)):
        raise Unfit
    return f"p[{number.value:.0f}]"


def _call(name: str, argument: Value, second: Value | None, dialect: Dialect) -> str:
    inner = f"finite({source(argument, dialect)})"
    if name == "ATAN":
        way = dialect["expr.atan"] if second is not None else "signed"
        return f"atan_{way}({inner}, {'1.0' if second is None else f'finite({source(second, dialect)})'})"
    if name not in FUNCTIONS:
        raise Unfit
    toward_zero = name in ("FIX", "FUP") and dialect["expr.fix_fup"] == "zero"
    return f"finite({name}{'_zero' if toward_zero else ''}({inner}))"


def _chain(values: list[str], operators: list[str], dialect: Dialect) -> str:
    """Level by level, each from left to right."""
    for level in dialect["expr.levels"]:
        done, left = values[:1], []
        for operator, operand in zip(operators, values[1:], strict=True):
            if operator in level:
                done[-1] = _operated(operator, done[-1], operand, dialect)
            else:
                done.append(operand)
                left.append(operator)
        values, operators = done, left
    if operators:
        raise Unfit
    return values[0]


def _operated(operator: str, left: str, right: str, dialect: Dialect) -> str:
    match operator:
        case "+" | "-" | "*":
            return f"({left} {operator} {right})"
        case "/":
            return f"({left} / finite({right}))"
        case "MOD":
            return f"({left} % abs(finite({right})))"
        case "**":
            return f"finite(power(finite({left}), finite({right})))"
        case _ if operator in ORDERS:
            return f"(1.0 if finite({left}) {ORDERS[operator]} finite({right}) else 0.0)"
        case _ if operator in NAMED and dialect["expr.logic"] == "logical":
            return f"{NAMED[operator]}(finite({left}), finite({right}))"
    raise Unfit
