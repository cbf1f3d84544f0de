"""Constructs of real programs as written there: what is found, where the moves end, and what comes behind."""

from math import isnan

import pytest
from proveout.parser.dialect import load_dialect
from proveout.parser.finding import Severity
from proveout.parser.interpreter import read_program
from proveout.parser.recognise import looks_like_program
from proveout.parser.source import Source

from .wild import FIRST, WILD

UNION = load_dialect("union")


@pytest.mark.parametrize("wild", WILD, ids=lambda wild: wild.text)
def test_a_construct_is_read_or_reported_and_what_follows_is_what_it_was(wild):
    source = Source("a.nc", wild.program.encode())
    assert looks_like_program(source) is None
    reading = read_program(source, UNION)
    first = 1 if wild.whole else FIRST
    own = range(first, first + wild.text.count("\n") + 1)
    kinds = {f.kind for f in reading.findings if f.line in own and f.severity > Severity.NOTE}
    assert kinds == set(wild.kinds.split())
    ends = reading.motion.end[[line in own for line in reading.motion.line]]
    assert len(ends) == len(wild.moves)
    for end, wanted in zip(ends.tolist(), wild.moves, strict=True):
        assert [None if isnan(v) else round(v, 4) for v in end] == list(wanted)
    if wild.after and not wild.whole:
        assert reading.motion.end[-1].tolist()[:2] == [2, 3]
    assert all(f.message() and f.advice() for f in reading.findings)


@pytest.mark.parametrize("wild", [wild for wild in WILD if not wild.after], ids=lambda wild: wild.text)
def test_what_is_not_run_or_has_no_place_is_never_silent(wild):
    reading = read_program(Source("a.nc", wild.program.encode()), UNION)
    shifted = "G52" in wild.text
    assert shifted or reading.unchecked or any(f.severity > Severity.NOTE for f in reading.findings)
