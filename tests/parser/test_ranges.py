"""Ranges of numbers: whatever the parameters hold within theirs, a value lies within its own.

The oracle is the evaluation of numbers, which is held against Python's own arithmetic and mpmath elsewhere
(test_expressions.py).
"""

from __future__ import annotations

from hypothesis import event, given, settings
from hypothesis import strategies as st
from proveout.parser.arithmetic import BadValue
from proveout.parser.dialect import load_dialect
from proveout.parser.expressions import evaluate
from proveout.parser.ranges import Range, range_of
from proveout.parser.written import Call, Chain, Number, Parameter, Signed

DIALECTS = [load_dialect(name) for name in ("report", "labelled", "usermacro")]
SOME = [-1e18, -1000.0, -90.0, -2.5, -1.0, -1e-300, 0.0, 5e-324, 0.3, 1.0, 2.0, 3.0, 45.0, 1e9]
ends = st.sampled_from(SOME) | st.floats(-1e6, 1e6)
leaves = st.sampled_from([Parameter(Number(1.0)), Parameter(Number(2.0))]) | ends.map(Number)
OPERATORS = ["+", "-", "*", "/", "MOD", "**", "EQ", "NE", "GT", "GE", "LT", "LE", "AND", "OR", "XOR"]
FUNCTIONS = ["ABS", "SIN", "COS", "TAN", "ASIN", "ACOS", "SQRT", "LN", "EXP", "ROUND", "FIX", "FUP", "ATAN"]


def values(inner):
    pairs = st.tuples(inner, st.sampled_from(OPERATORS), inner).map(lambda c: Chain((c[0], c[2]), (c[1],)))
    chains = st.tuples(inner, inner, inner, st.sampled_from("+-*"), st.sampled_from(OPERATORS)).map(
        lambda c: Chain(c[:3], c[3:]))
    calls = st.tuples(st.sampled_from(FUNCTIONS), inner, st.none() | inner).map(
        lambda c: Call(c[0], c[1], c[2] if c[0] == "ATAN" else None))
    return pairs | chains | calls | inner.map(lambda v: Signed(-1, v))


class Held(dict):
    """Parameters by number."""


@st.composite
def held_within(draw):
    """A range, and a number within it."""
    low, high = sorted((draw(ends), draw(ends)))
    number = draw(st.sampled_from([low, high, *([0.0] if low <= 0 <= high else [])]))
    if low < high and draw(st.booleans()):
        number = draw(st.floats(low, high))
    whole = number.is_integer() and draw(st.booleans())
    return Range(low, high, whole), number


@settings(max_examples=500)
@given(st.recursive(leaves, values, max_leaves=5), held_within(), held_within(), st.sampled_from(DIALECTS))
def test_a_value_lies_within_its_range(value, first, second, dialect):
    known = range_of(value, {1: first[0], 2: second[0]}, dialect)
    try:
        number = evaluate(value, Held({1: first[1], 2: second[1]}), dialect)
    except BadValue:
        assert not known.sure
        return
    event(f"sure {known.sure}")
    assert known.low <= number <= known.high
    assert not known.whole or number.is_integer()
