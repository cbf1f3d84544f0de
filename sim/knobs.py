"""The operator's knobs: how far feed and spindle speed may be turned, and at which settings a table shows it.

The law: percentages of what is programmed; a range has its lower end first.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

PERCENT = 100.0
STEP = 10.0  # percent between two rows of a knob's table


@dataclass(frozen=True)
class Knobs:
    """Between how many percent of what is programmed the operator may turn feed and spindle speed; None: not
    said, they stand at 100."""

    feed: tuple[float, float] | None = None
    speed: tuple[float, float] | None = None


AS_PROGRAMMED = Knobs()


def settings(low: float, high: float) -> list[float]:
    """The settings in a range that a table shows: its ends, every full ten percent, and 100."""
    tens = np.arange(np.ceil(low / STEP), np.floor(high / STEP) + 1) * STEP
    return sorted({low, high, *tens.tolist(), *([PERCENT] if low <= PERCENT <= high else [])})
