"""The page of codes says of each what the interpreter does with it: every code is run under every dialect."""

import pytest
from proveout.parser.dialect import load_dialect, shipped
from proveout.parser.finding import Severity
from proveout.parser.interpreter import read_program
from proveout.parser.modes import BY_NAME, Axes
from proveout.parser.source import Source
from proveout.viewer.codes import WORDS, Treated, page, said, treated

VALUES = {"L": "L2", "P": "P1", "R": "R1", "Q": "Q1", "K": "K1", "I": "I5", "J": "J0", "H": "H1", "D": "D1"}


PLAIN = ("G50", "G70", "G71")  # with words they are a speed limit and turning cycles


def program(code, letters):
    words = "".join(f" {VALUES[letter]}" for letter in VALUES
                    if letter in code.takes and letter in letters and code.name not in PLAIN)
    if code.name in ("G2", "G3"):
        words = " I5 J0"
    axes = " X10 Y0 Z-1" if code.drills or code.axes is Axes.MUST else ""
    return f"G21 G17 G90 G94 G54\nS1000 M3\nG0 Z5.\nG0 X0. Y0.\nG1 F100. X0.\n{code.name}{axes}{words}\nM30\n"


TAKEN = [(code, name) for name in shipped() for code in BY_NAME.values()
         if load_dialect(name).takes(code.name)]


@pytest.mark.parametrize(("code", "name"), TAKEN, ids=[f"{code.name} {name}" for code, name in TAKEN])
def test_what_is_done_with_a_code(code, name):
    dialect = load_dialect(name)
    reading = read_program(Source("a.nc", program(code, dialect["lex.letters"]).encode()), dialect)
    found = [f for f in reading.findings if f.kind == "code-unsupported" and f.about == code.name]
    reported = any(f.severity > Severity.NOTE for f in found)
    assert reported is (treated(code, dialect) is Treated.REPORTED)
    if treated(code, dialect) is Treated.SIMULATED:
        assert found == []


def test_each_code_stands_on_the_page_with_words_of_its_own():
    text = page()
    for code in BY_NAME.values():
        if code.served:
            assert f"\n{code.name} " in text
        assert said(code)
    assert WORDS.keys() == {code.name for code in BY_NAME.values() if code.served}


def test_the_letters_of_a_row_say_where_it_is_taken_and_where_only_reported():
    rows = {row.split()[0]: row.split() for row in page().splitlines() if row.startswith(("G", "M"))}
    assert rows["G81"][2] == "RSLU."
    assert rows["G76"][2] == "..lU."  # threading there, fine boring here
    assert rows["G43.1"][2] == ".SL.C"


def test_the_page_is_shown(capsys):
    from proveout.viewer.manual import show_page
    assert show_page("codes") == 0
    shown = capsys.readouterr().out
    assert "G81" in shown
    assert "simulated" in shown
