"""Many moves, one finding: what a check says once about all the moves it holds for.

The law: a finding for many moves stands at the first of them, carries the worst value, and counts them.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from ...parser.finding import Finding, finding
from ..evidence import Evidence
from ..feeds import Rows


def first_line(evidence: Evidence, rows: Rows) -> int:
    """The program line of the first of these moves."""
    return int(evidence.motion.line[rows[0]])


def repeated(kind: str, evidence: Evidence, rows: Rows, worst: int | np.intp, *, line: int | None = None,
             **numbers: Any) -> Finding:
    """One finding for all of `rows`, placed where move `worst` cuts deepest, or at its end: there, too, where
    it goes straight down, for that is what the control shows.

    `line` 0 is for what no line is to blame for; left out: the first move's line. `numbers` go to `finding`.
    """
    motion, row = evidence.motion, int(worst)
    line = first_line(evidence, rows) if line is None else line
    at = motion.end[row].copy()
    sideways = not np.array_equal(motion.start[row, :2], at[:2]) or motion.arc[row] >= 0
    if sideways and np.isfinite(evidence.cut.deepest_at[row]).all():
        at[:2] = evidence.cut.deepest_at[row]
    found = finding(kind, line=line, at=at, shown=motion.shown(row, at), **numbers)
    return replace(found, count=len(rows), last_line=int(motion.line[rows].max()) if line else 0)
