"""Whose language a program seems to speak: common practice, no published source."""

from dataclasses import replace

import pytest
from proveout.parser.blocks import read_blocks
from proveout.parser.dialect import load_dialect, shipped
from proveout.parser.family import family_of, guess
from proveout.parser.source import Source


def family(text):
    return family_of(read_blocks(Source("a.nc", text.encode()), load_dialect("union"))[0])


@pytest.mark.parametrize(("text", "dialect", "line"), [
    ("G21 G90\nG0 X1 Y2\nG1 Z-1 F100\n", "standard", 0),
    ("o100 sub\nG1 X1\no100 endsub\n", "labelled", 1),
    ("G0 X1\nG0 Y[1+#<_depth>]\n", "labelled", 2),
    ("#1=0\nWHILE [#1 LT 4] DO1\nG0 X1\nEND1\n", "usermacro", 2),
    ("G0 X1\nM98 P200\n", "usermacro", 2),
    ("%\nO1000\nG0 X1 Y1 Z1\n%\n", "usermacro", 2),
    ("G0 X1\n#3=5\nG0 X#3\n", "standard", 2),
    ("G90\nG71\nG1 X1 F100\n", "tape", 2), ("G90\nG74 G2 X1 Y1 I1\n", "tape", 2),
    ("G90\nG1 X1. ,R2.\nY3.\n", "usermacro", 2),
])
def test_families_of_controls(text, dialect, line):
    guessed = family(text)
    assert (guessed.dialect, guessed.line, guessed.blind) == (dialect, line, "")
    assert dialect in shipped()


@pytest.mark.parametrize(("text", "said", "line"), [
    ("M104 S200\nG28\nG1 X1 Y1 E0.5 F1200\nG1 X2 E0.6\n", "3D printer", 1),
    ("G21\nG1 X1 Y1 E0.5 F1200\nG1 X2 Y2 E0.6\n", "3D printer", 2),
    ("G50 S2000\nG96 S200 M3\nT0101\nG0 X50 Z2\nG71 P10 Q20 U0.2\n", "lathe", 2),
    ("G21\nM4\nG1 X1 S200 F900\nG1 X2 S300\nG1 Y1 S0\n", "laser", 3),
    ("G92 X0 Y0\nG1 X1 Y1 U1 V1\nG1 X2 U2 V1\n", "wire", 2),
])
def test_other_trades_are_named_with_what_is_not_simulated(text, said, line):
    guessed = family(text)
    assert said in guessed.title
    assert guessed.line == line
    assert str(line) in guessed.why
    assert guessed.blind
    assert not guessed.dialect


@pytest.mark.parametrize("text", [
    "T1 M6\nS12000 M3\nG0 X1 Y1\nG1 Z-1 F100\nG1 X5 Y5\n",
    "G1 X1 Z1 S100\nG1 X2 Z-1 S100\n", "T3 M6\nT5 M6\nG0 X1 Z1\n",
    "G1 X1 E0.5\nG0 Z5\n"])
def test_one_odd_word_is_no_trade(text):
    assert family(text).dialect




@pytest.mark.parametrize(("text", "dialect", "line"), [
    ("G21\n$H\nG0 X1\n", "compact", 2), ("$100=250.0\nG0 X1\n", "compact", 1),
    ("DEF REAL A[3]\nR1=5\nG0 X1\n", "", 1), ("G0 X1\nGOTOF LABEL\nX=IC(0)\n", "", 2),
    ("G0 X1\n#1=0\nG1 X#1\n", "standard", 2)])
def test_a_guess_from_the_text(text, dialect, line):
    guessed = guess(Source("a.nc", text.encode()))
    assert (guessed.dialect, guessed.line) == (dialect, line)
    assert bool(guessed.blind) is not bool(guessed.dialect)


def test_a_long_program_is_judged_by_its_beginning_and_its_end():
    text = "G21 G90\n" + "G1 X1 Y1\n" * 5000 + "o100 sub\nG0 X1\no100 endsub\n"
    assert guess(Source("a.nc", text.encode())) == replace(
        family("o100 sub\n"), line=5002, why="an O word with sub on line 5002")
