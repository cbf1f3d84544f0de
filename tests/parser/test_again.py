"""Lines that run again give what they gave the long way: moves, values and findings, bit for bit.

The oracle is the interpreter itself with the short way closed; the other tests hold it against the language.
"""

from __future__ import annotations

from unittest.mock import patch

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from proveout.parser.again import Again
from proveout.parser.dialect import load_dialect
from proveout.parser.expressions import BadValue, Empty, evaluate
from proveout.parser.interpreter import read_program
from proveout.parser.lines import read_line
from proveout.parser.reading import Setting
from proveout.parser.ready import NOT_READY, Ready
from proveout.parser.source import Source

from .lanes import hold

BOTH_WAYS = ["union", "usermacro", "labelled", "report", "forgiving"]
HERE = Setting(position=(0.0, 0.0, 0.0), offsets={1: (1.0, 2.0, 3.0), 2: (0.5, 0.0, 0.0)},
               machine_origin=(0.0, 0.0, 0.0), parameters={10: 0.3, 11: -2.0, 12: float("nan")})


def both(text: str, name: str = "union"):
    source, dialect = Source("a.nc", text.encode()), load_dialect(name)
    short = read_program(source, dialect, HERE)
    with patch.object(Again, "line", return_value=False), patch.object(Ready, "compared", return_value=None):
        hold(short, read_program(source, dialect, HERE))
    return short


LINES = [
    "G1 X[#1*0.1] Y2. F100", "X#1", "G0 Z[#1/3.+#10]", "G91 G1 X-.1", "G90", "Y[#2-#1] F[100.+#1]",
    "F[#1-2.]", "#2=#2+#10", "#2=#1*#1-#10/3.", "#3=#2 #2=#1", "#2=SQRT[#1]+SIN[#1*30.]",
    "#2=ATAN[#1]/[#2+1.]", "X#50", "X#12", "#4=#12", "#2=#1/[#1-2.]", "#2=[#1 GT 2.]", "#[#1+20]=#1",
    "X#[20]", "G20", "G21", "G2 X1. Y1. R5. F100", "IF [#1 EQ 2.] THEN #2=5.", "IF [#2 GT #1] GOTO 90",
    "IF [#50 EQ #0] GOTO 90", "IF [#12 GT 1.] GOTO 90", "G1 X20000000.", "X10", "G68 X0 Y0 R[#1*10.]", "G69",
    "G55", "G54", "M98 P7", "G66 P7", "G67", "(note)", "/X5.", "#2=FIX[#11/2.]-FUP[#1/2.]", "#2=#1 MOD 2.",
    "#2=#1**0.5", "#2=1.+2.*#1**2.", "X[1.+2.*#1]", "G80", "G95 X1.", "G94", "G81 X#1 Y1. Z-1. R1. F100",
    "#5221=#1", "X#5221", "M3 S[1000.*#1]", "G41 D1", "G40", "G1", "X1. X2.", "#2=ROUND[#1/2.]", "#2=-#1",
    "X-#1", "G53 G0 Z0", "#2=EXISTS[#1]", "#1000000000=1", "Y[#1]Z#1"]


LINES += [
    "G2 X[#1+1.] Y1. I.5 J0 F100", "G3 X0 Y0 R[10.+#1]", "X2. Y0 I1. J0", "G91", "G90", "G91 G0 X1.", "G90.1",
    "G91.1", "G18", "G17", "X1. Y1. R-5.", "F200.", "G2 I1. J0", "G3 X1. I#1", "G90 G2 X2. Y2. Z-#1 R2.",
    "G90 G91", "G2 X2 Y0 I1 J0 K1", "G91 F50.", "G3 X0. Y0. I0.0003 J0", "G0 G1 X1.",
    "G2 X1. Y1. I.5 J.5 R1.",
    "G1.0 X#1",
    "IF [#1 GT 2.] THEN G91 G1 X1.", "IF [#1 GT 2.] THEN G2 X2. Y0 I1. J0", "G38.2 Z-1. F10", "G28 X0"]


@given(st.lists(st.sampled_from(LINES), min_size=1, max_size=6), st.lists(st.sampled_from(LINES), max_size=2),
       st.sampled_from(BOTH_WAYS))
@settings(max_examples=300)
def test_lines_of_loops_do_what_they_do_the_long_way(body, sub, name):
    inner = "\n".join(body)
    both(f"G21 G17 G90 G94 G54 G98\nG0 X0 Y0 Z5.\n#1=0.\n#2=1.\nN1 #1=#1+1.\n{inner}\n"
         "N90 IF [#1 LT 4.] GOTO 1\nM30\nO7\n" + "\n".join(sub) + "\nM99\n", name)


def test_labelled_loops_too():
    both("#<a>=0 #<_b>=1\no1 while [#<a> LT 5]\nG1 X[#<a>*2] Y#<_b> F100\n#<a>=[#<a>+1] #<_b>=[#<_b>*2]\n"
         "o2 if [#<a> EQ 3]\nG0 Z1\no2 elseif [#<_b> GT 4]\nG0 Z2\no2 else\nG0 Z3\no2 endif\no1 endwhile\nM2",
         "labelled")


class Memory(dict):
    """Parameters by number and by name, as expressions read them."""


OPERATORS = ["+", "-", "*", "/", "**", " MOD ", " AND ", " OR ", " XOR ", " GT ", " EQ ", " NE ", " LE "]
FUNCTIONS = ["ABS", "SQRT", "SIN", "COS", "TAN", "ASIN", "ACOS", "FIX", "FUP", "ROUND", "EXP", "LN"]
EXPRESSIONS = st.recursive(
    st.sampled_from(["#1", "#2", "#3", "#<a>", "2.", "0.", "-1.5", "7"]),
    lambda inner: st.one_of(
        st.tuples(inner, st.sampled_from(OPERATORS), inner).map(lambda t: "[" + "".join(t) + "]"),
        st.tuples(inner, inner, inner).map(lambda t: f"[{t[0]}+{t[1]}*{t[2]}-{t[0]}]"),
        st.tuples(st.sampled_from(FUNCTIONS), inner).map(lambda t: f"{t[0]}[{t[1]}]"),
        st.tuples(inner, inner).map(lambda t: f"ATAN[{t[0]}]/[{t[1]}]")), max_leaves=6)


@given(EXPRESSIONS, st.lists(st.sampled_from([0.0, -0.0, 1.0, -2.0, 0.1, 1e200, 37.5, float("nan"), None]),
                             min_size=4, max_size=4), st.sampled_from(BOTH_WAYS))
@settings(max_examples=500)
def test_a_ready_value_is_the_value(text, held, name):
    dialect = load_dialect(name)
    value = read_line(f"X[{text}]", "both").words[0].value
    memory = Memory({k: v for k, v in zip((1, 2, 3, "a"), held, strict=True) if v is not None})
    made = Ready(dialect).number(value, "X")
    if made is None:
        return
    numbers = {k: v for k, v in memory.items() if isinstance(k, int)}
    names = {k: v for k, v in memory.items() if isinstance(k, str)}
    try:
        number = made(numbers, names)
    except NOT_READY:
        return
    assert number.hex() == evaluate(value, memory, dialect).hex()


@pytest.mark.parametrize(
    "text", ["#1+#2*2.", "FIX[#1/2.]", "[#1 GT #2]", "SQRT[#1]", "#1-#2-#1", "ATAN[#1]/[#2]"])
def test_what_people_write_in_loops_is_made_ready(text):
    value = read_line(f"X[{text}]", "both").words[0].value
    made = Ready(load_dialect("labelled")).number(value, "X")
    assert made is not None
    assert made({1: 5.0, 2: 2.0}, {}) == evaluate(value, Memory({1: 5.0, 2: 2.0}), load_dialect("labelled"))
    with pytest.raises(NOT_READY):
        made({1: 5.0, 2: float("nan")} if "#2" in text else {}, {})


@pytest.mark.parametrize("text", ["1/0", "SQRT[-1]", "#9", "EXP[600.]*EXP[600.]*0."])
def test_what_cannot_be_reckoned_is_left(text):
    value, dialect = read_line(f"X[{text}]", "both").words[0].value, load_dialect("usermacro")
    with pytest.raises((BadValue, Empty)):
        evaluate(value, Memory(), dialect)
    made = Ready(dialect).number(value, "X")
    assert made is not None
    with pytest.raises(NOT_READY):
        made({}, {})
