"""Each condition that a strict reader must report is one finding, of its kind and on its line."""

from pathlib import Path

import pytest
from proveout.parser.dialect import load_dialect
from proveout.parser.doubts import doubted, other_readings
from proveout.parser.finding import Severity, registry
from proveout.parser.interpreter import read_program
from proveout.parser.reading import Setting
from proveout.parser.source import Source

from .errors_table import READ, SIMULATED

TESTS = Path(__file__).parents[1]
MACHINE = Setting(cutters=frozenset({1, 2}), lengths={1: 0.0, 2: 7.0}, diameters={1: 6.0, 2: 10.0})


def found(program, name):
    dialect = load_dialect(name)
    reading = read_program(Source("a.nc", program.encode()), dialect, MACHINE)
    return [*reading.findings, *doubted(other_readings(reading, dialect, MACHINE))]


@pytest.mark.parametrize("row", READ, ids=lambda row: row.says)
def test_a_condition_is_one_finding_of_its_kind_on_its_line(row):
    here = [f for f in found(row.program, row.dialect) if f.line == row.line]
    (it,) = [f for f in here if f.kind == row.kind]
    assert row.column in (0, it.column)
    assert it.message()
    assert it.advice()
    assert it.severity > Severity.NOTE or row.kind in ("option-switch", "start-state", "code-conflict")
    others = {f.kind for f in here if f is not it and f.severity > Severity.NOTE}
    assert others <= {"unplaced", *row.also}


@pytest.mark.parametrize("row", [row for row in READ if row.off], ids=lambda row: row.says)
def test_a_dialect_that_allows_it_says_no_more_than_a_note(row):
    here = [f for f in found(row.program, row.off) if (f.line, f.kind) == (row.line, row.kind)]
    assert all(f.severity is Severity.NOTE for f in here)


def test_a_spindle_that_turns_breaks_a_probe():
    """word-doubtful, beside the doubt where it ends; the report forbids it in its motion layer [NIST IR 6556,
    3.5.9]."""
    program = "G21 G90 G54\nG0 Z5\nS1000 M3\nG38.2 Z-5 F50\nG0 Z5\nM30\n"
    said = {f.about: f.message() for f in found(program, "standard") if f.line == 4}
    assert "the probe breaks" in said["spindle"]
    assert "spindle" not in {f.about for f in found(program.replace("M3", "M5"), "standard")}


def test_what_only_the_board_shows_has_its_test():
    for row in SIMULATED:
        path, function = row.test.split("::")
        text = (TESTS / path).read_text(encoding="utf-8")
        assert f"def {function}(" in text, row.says
        assert row.kind in text or row.kind.replace("-", "_") in text, row.says
        assert row.kind in registry()


def test_each_condition_has_one_row():
    said = [row.says for row in (*READ, *SIMULATED)]
    assert len(set(said)) == len(said)
