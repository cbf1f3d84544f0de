"""Inputs that a mutation of real-looking programs made, and on which a reader once failed.

Each is read to an end now. Found by tests/bench/bench_fuzz.py; cut down to what matters.
"""

from __future__ import annotations

import pytest
from proveout.parser.dialect import load_dialect
from proveout.parser.interpreter import read_program
from proveout.parser.source import Source


@pytest.mark.parametrize(("text", "name", "kind"), [
    (b"G40G54G0X-15.o10.\nM30", "usermacro", "word-doubtful"),  # a letter O with two points about it
    (b"G21 G90\nG0 X0 Y0 Z0\nG41.1\nG1 X5 Y5 F100\nM30", "report", "unplaced"),  # no diameter given
])
def test_it_is_read_to_an_end(text, name, kind):
    reading = read_program(Source("a.nc", text), load_dialect(name))
    assert kind in [found.kind for found in reading.findings]
    assert all(found.message() and found.advice() for found in reading.findings)
