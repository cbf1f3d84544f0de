"""How the parser's tests run a program and look at what it did."""

from __future__ import annotations

import pytest
from proveout.parser.dialect import load_dialect
from proveout.parser.motion import Move
from proveout.parser.reading import Reading, Setting
from proveout.parser.source import Source

from .lanes import read_both

HEAD = "G21 G17 G90 G94 G54 G98"


class Ran:
    """A reading, with its moves as (letter, x, y, z) in program coordinates: R rapid, F feed, A arc."""

    def __init__(self, reading: Reading) -> None:
        self.reading = reading
        self.motion = reading.motion

    @property
    def moves(self) -> list[tuple]:
        rows = range(len(self.motion))
        shown = [self.motion.shown(row, self.motion.end[row]) for row in rows]
        return [("RFA"[self.motion.kind[row]], *(round(v, 6) + 0.0 for v in shown[row])) for row in rows]

    @property
    def reads(self) -> tuple:
        """What the control shows at the end."""
        return tuple(round(p - s, 6) + 0.0 for p, s in
                     zip(self.reading.position, self.reading.final.shift, strict=True))

    @property
    def stops(self) -> list[str]:
        """Kinds of the findings that make the program unusable."""
        return [f.kind for f in self.reading.findings if f.severity.word == "stop"]

    def kinds(self) -> list[str]:
        return [f.kind for f in self.reading.findings]

    def found(self, kind: str):
        return [f for f in self.reading.findings if f.kind == kind]

    def arc(self, row: int = -1):
        """(first axis, second axis of the centre, sweep in degrees) of a move, by default the last."""
        arc = self.motion.arc[row]
        assert self.motion.kind[row] == Move.ARC
        sweep = self.motion.arcs.sweep[arc] * 180 / 3.141592653589793
        return (*self.motion.arcs.centre[arc], sweep)


@pytest.fixture(scope="session")
def run():
    """run(text, dialect="report", values={...}, **setting) -> Ran. Every program is read in both lanes."""
    def _run(text: str, dialect: str = "report", values: dict | None = None, **setting) -> Ran:
        chosen = load_dialect(dialect)
        if values:
            chosen = chosen.with_values(values)
        setting.setdefault("position", (0.0, 0.0, 0.0))
        return Ran(read_both(Source("test.nc", text.encode()), chosen, Setting(**setting)))
    return _run
