"""Values of expressions: the report's rules, and Python's own arithmetic as the oracle.

The tables are those of NIST IR 6556 (sections given beside each row: its text, or its sample C.2) and of the
rule in 3.3.2.3 that operators of one level go from left to right.
"""

import math
from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from proveout.parser.blocks import Call, Chain, Number, Parameter, Signed
from proveout.parser.dialect import load_dialect
from proveout.parser.expressions import BadValue, Empty, doubts, evaluate
from proveout.parser.lines import read_line

REPORT, UNION = load_dialect("report"), load_dialect("union")
MACROS = UNION.with_values({
    "expr.fix_fup": "zero", "expr.logic": "bitwise", "expr.undefined": "empty",
    "expr.levels": [["**"], ["*", "/", "AND", "MOD"], ["+", "-", "OR", "XOR"]]})


def value(text, parameters=None, dialect=REPORT):
    return evaluate(read_line("X " + text).words[0].value, parameters or {}, dialect)


@pytest.mark.parametrize(("text", "expected"), [
    ("[2.0 / 3 * 1.5 - 5.5 / 11.0]", 0.5),  # 3.3.2.3
    ("[1 + 2 * 3 - 4 / 5]", 6.2),  # C.2
    ("[2 + 3 * 4 - 5 / 6]", 13 + 1 / 6),
    ("[1 --3]", 4),  # C.2
    ("[15 MOD 4.0]", 3),  # C.2
    ("[2 or 2]", 1), ("[2 and 2]", 1), ("[2 xor 2]", 0),  # C.2
    ("[2 ** 3.0]", 8), ("[2 ** 3 ** 2]", 64),  # C.2, and left to right
    ("[8 / 2 * 4]", 16),
    ("[-2 ** 2]", 4),  # appendix E: the sign belongs to the literal
    ("[1 AND 1 + 1]", 2), ("[1 + 1 AND 1]", 1), ("[0 OR 2 * 3]", 1), ("[2 + 0 OR 0 - 1]", 0),
    ("sin[30]", 0.5), ("atan[1.7321]/[1.0]", 60.000705), ("atan[-1]/[-1]", -135),  # C.2
    ("fix[-0.499]", -1), ("fix[-2.8]", -3), ("fup[-2.8]", -2), ("fix[2.8]", 2), ("fup[2.8]", 3),  # 3.3.2.4
    ("round[-0.499]", 0), ("round[-0.5001]", -1), ("round[9.975]", 10),  # C.2
    ("round[0.49999999999999994]", 0), ("round[2.5]", 3), ("round[-2.5]", -3),  # common practice, no source
    ("sqrt[3**2 + 4**2]", 5),  # C.2
    ("[2 + asin[1/2.1+-0.345] / [atan[fix[4.4] * 2.1 * sqrt[16.8]] /[-18]]**2]", 2.000545),  # C.2
    ("abs[-3]", 3), ("exp[1]", math.e), ("ln[exp[2]]", 2), ("acos[-1]", 180), ("tan[45]", 1),
    ("cos[60]", 0.5),
    ("[2-4 MOD 3]", 1), ("[[0-4] MOD 3]", 2), ("[[0-4] MOD [0-3]]", 2),  # never negative: common practice
])
def test_published_values(text, expected):
    assert value(text) == pytest.approx(expected, abs=1e-5)


@pytest.mark.parametrize(("held", "expected"), [(6, 55), (15, -134)])
def test_published_value_of_a_parameter(held, expected):
    assert value("[1 + acos[0] - [#3 ** [4.0/2]]]", {3: held}) == pytest.approx(expected)  # 3.3.2.3


@pytest.mark.parametrize(("text", "expected"), [
    ("#1", 2.0), ("##2", 9.0), ("#[1+2]", 9.0), ("[#1+2]", 4.0), ("#[#1]", 3.0)])
def test_the_index_binds_before_any_operator(text, expected):
    """3.3.2.2."""
    assert value(text, {1: 2.0, 2: 3.0, 3: 9.0}) == expected


@pytest.mark.parametrize(("text", "expected"), [("fix[-2.8]", -2), ("fup[-2.8]", -3), ("[6 AND 3]", 2),
                                                ("[6 OR 3]", 7), ("[6 XOR 3]", 5), ("[1 + 4 AND 4]", 5)])
def test_macro_rules(text, expected):
    """Common practice, no published source."""
    assert value(text, dialect=MACROS) == expected


@pytest.mark.parametrize(("text", "condition"), [
    ("[1/0]", "division-by-zero"), ("[1 MOD 0]", "division-by-zero"), ("[0 ** -1]", "division-by-zero"),
    ("sqrt[-1]", "domain"), ("ln[0]", "domain"), ("asin[1.1]", "domain"), ("acos[-1.1]", "domain"),
    ("[-2 ** 0.5]", "domain"), ("tan[90]", "domain"), ("exp[1000]", "value-not-finite"),
    ("[10 ** 999]", "value-not-finite"), ("#0", "parameter-index"), ("#5400", "parameter-index"),
    ("#1.5", "parameter-index"), ("[1 EQ 1]", "operator-unknown")])
def test_what_cannot_be_calculated(text, condition):
    with pytest.raises(BadValue) as bad:
        value(text)
    assert bad.value.condition == condition
    assert condition in REPORT.conditions
    assert bad.value.what
    assert bad.value.fix


def test_an_index_within_a_ten_thousandth_counts_as_whole():
    assert value("#1.00009", {1: 7.0}) == 7.0


def test_a_parameter_never_set():
    assert value("#7") == 0.0
    with pytest.raises(Empty):
        value("#7", dialect=MACROS)
    with pytest.raises(BadValue):
        value("#7", dialect=REPORT.with_values({"expr.undefined": "error"}))


@pytest.mark.parametrize("text", ["#1", "[#1*0]", "[0*#1]", "[#1 AND 0]", "sin[#1]", "atan[#1]/[1]",
                                  "atan[1]/[#1]", "##1", "[#1 MOD 2]", "fix[#1]", "[#1 ** 0]", "[[#1]]"])
def test_what_only_the_machine_knows_stays_unknown(text):
    assert math.isnan(value(text, {1: math.nan}))


@pytest.mark.parametrize(("text", "keys"), [
    ("[1 + 2 * 3]", ()), ("[2 AND 2]", ("expr.logic",)), ("fix[-2.8]", ("expr.fix_fup",)),
    ("[1 AND 1 + 1]", ("expr.levels", "expr.logic")), ("#9", ("expr.undefined",)), ("fix[2.8]", ())])
def test_which_keys_a_value_hangs_on(text, keys):
    assert doubts(read_line("X " + text).words[0].value, {}, UNION) == keys


def test_names():
    line = read_line("X [#<a> + EXISTS[#<a>] + EXISTS[#<b>]] Y#<b> Z#<_hal[pin]>", "labels")
    x, y, z = (word.value for word in line.words)
    assert evaluate(x, {"a": 5.0}, UNION) == 6.0
    with pytest.raises(BadValue, match="#<b>"):
        evaluate(y, {}, UNION)
    assert math.isnan(evaluate(z, {}, UNION))


# --- against Python ---

LITERALS = st.decimals(-999, 999, places=3).map(lambda d: Number(float(d), True))


def _between(values, signs):
    return st.lists(st.sampled_from(signs), min_size=len(values) - 1, max_size=len(values) - 1)


@given(st.lists(LITERALS, min_size=1, max_size=8), st.data())
def test_four_rules_of_arithmetic_are_pythons(values, data):
    signs = data.draw(_between(values, "+-*/"))
    numbers = [repr(each.value) for each in values]
    text = numbers[0] + "".join(f"{s}({n})" for s, n in zip(signs, numbers[1:], strict=True))
    try:
        expected = eval(text)  # Python's own precedence and order: the oracle
    except ZeroDivisionError:
        with pytest.raises(BadValue):
            evaluate(Chain(tuple(values), tuple(signs)), {}, REPORT)
        return
    assert evaluate(Chain(tuple(values), tuple(signs)), {}, REPORT) == expected


@given(st.lists(st.integers(-9, 9), min_size=2, max_size=7), st.data())
def test_levels_are_strictly_left_to_right(numbers, data):
    """A slow reader of the rule itself: each operator in turn, by level, over exact fractions."""
    signs = data.draw(_between(numbers, ["+", "-", "*", "AND", "OR", "XOR"]))
    items = [Fraction(numbers[0])]
    for sign, number in zip(signs, numbers[1:], strict=True):
        items += [sign, Fraction(number)]
    for level in (["*"], ["+", "-", "AND", "OR", "XOR"]):
        while any(sign in level for sign in items[1::2]):
            at = next(i for i in range(1, len(items), 2) if items[i] in level)
            a, sign, b = items[at - 1:at + 2]
            exact = {"+": a + b, "-": a - b, "*": a * b, "AND": bool(a) & bool(b), "OR": bool(a) | bool(b),
                     "XOR": bool(a) ^ bool(b)}[sign]
            items[at - 1:at + 2] = [Fraction(exact)]
    chain = Chain(tuple(Number(float(n)) for n in numbers), tuple(signs))
    assert evaluate(chain, {}, REPORT) == float(items[0])


@given(st.floats(-1e9, 1e9))
def test_rounding(number):
    assert value(f"fix[{number:.6f}]") == math.floor(float(f"{number:.6f}"))
    assert value(f"fup[{number:.6f}]") == math.ceil(float(f"{number:.6f}"))
    rounded = value(f"round[{number:.6f}]")
    assert abs(Fraction(rounded) - Fraction(float(f"{number:.6f}"))) <= Fraction(1, 2)


@given(st.floats(-720, 720))
def test_angles_are_degrees(degrees):
    assert evaluate(Call("SIN", Number(degrees)), {}, REPORT) == math.sin(math.radians(degrees))
    assert evaluate(Call("COS", Number(degrees)), {}, REPORT) == math.cos(math.radians(degrees))


@given(st.floats(-1e6, 1e6), st.floats(-1e6, 1e6))
def test_atan_knows_its_quadrant(y, x):
    assume(x or y)
    angle = evaluate(Call("ATAN", Number(y), Number(x)), {}, REPORT)
    assert angle == math.degrees(math.atan2(y, x))
    turned = UNION.with_values({"expr.atan": "positive"})
    assert 0 <= evaluate(Call("ATAN", Number(y), Number(x)), {}, turned) <= 360


@given(st.floats(allow_nan=False, allow_infinity=False, width=32))
def test_a_sign_before_a_value(number):
    assert evaluate(Signed(-1, Parameter(Number(1))), {1: number}, UNION) == -number


def test_what_hangs_on_a_value_that_could_not_be_calculated_is_not_called_the_machines(run):
    ran = run("G21 G90 G54\n#4=ASIN[2]\n#5=[#4+1]\nG0 X#5", "union")
    assert ran.stops == ["value-bad"]
    assert not ran.found("word-doubtful")
    assert not ran.motion.placed.any()
