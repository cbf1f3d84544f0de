"""What is a program, and what only came with a program's name."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from proveout.parser.recognise import looks_like_program
from proveout.parser.source import Source


def reason(data):
    return looks_like_program(Source("a.nc", data if isinstance(data, bytes) else data.encode()))


@pytest.mark.parametrize("text", [
    "G21 G90\nG0 X1\nM30\n", "%\nO0001(NAME)\nN10G0X0Y0\n%\n", "; from some software\nG1 X1\n", "X1 Y2\nX3\n",
    "o100 sub\nG1 X1\no100 endsub\n", "#1=0\nWHILE [#1 LT 4] DO1\nG0 X[#1*25.] Y0\n#1=#1+1\nEND1\n",
    "IF[#978GE360]THEN#978=#978-360\nM98 P200\nM99\n", "G1 X1 Y?\n", "g0x1\n\n\ny3", "M104 S200\nG1 X1 E5\n",
    "(only)\n(a)\n(few)\n(words)\nG0 X1\n", "/G0 X1\n", ":1\nG0 X1\n"])
def test_a_program_good_or_bad(text):
    assert reason(text) is None


@pytest.mark.parametrize(("text", "said"), [
    (b"\x89PNG\r\n\0\0", "binary"), (b"", "empty"), ("\n\n  \n", "no line"), (b"\xff\xfeG\0\0", "utf-16"),
    ("Dear colleague,\nthe board is ready.\nPlease come and look.\n", "line 1"),
    ("M48\nMETRIC,TZ\nT1C0.762\n%\nT1\nX001Y002\n", "drill list"),
    ("solid part\nfacet normal 0 0 1\n", "surface"), ("<?xml version='1.0'?>\n<svg/>\n", "page"),
    ('{\n "a": 1\n}\n', "data"), ("x,y,z\n1.0,2.0,3.0\n1.5,2.0,3.1\n", "line 1"),
    ("1 2 3\n4 5 6\n", "line 1"),
    ("import math\nprint(math.pi)\n", "line 1"), ("S12000\nF800\n", "no line has")])
def test_no_program(text, said):
    assert said in reason(text)
    assert "a.nc" in reason(text)
    assert "\n" not in reason(text)


@given(st.binary(max_size=200))
def test_any_bytes_have_an_answer(data):
    assert reason(data) is None or reason(data).startswith("a.nc")
