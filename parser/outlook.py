"""Whether a program can still reach an end, whatever its counters come to: a walk over all ways at once.

The law: never wrongly no. From where the program stands every line that may be run next is followed
(ways.py), with a range for each parameter that holds all that it may come to there (ranges.py); where ways
meet the ranges are joined, and what goes on growing is widened, to the numbers that the program itself
holds, then to what can be counted up within its budget (counting.py). What is not understood counts as an
end. If no end is met, there is none within the budget.
Method: P. Cousot and R. Cousot, Abstract interpretation, POPL 1977; from memory.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from math import inf, isfinite
from typing import TYPE_CHECKING

from . import counting
from .dependence import Var
from .parameters import is_live
from .ranges import EVERY, Range, Ranges, hull, one
from .ways import Frame, Over, Standing, Ways

if TYPE_CHECKING:
    from .flow import Course

MOST_STEPS = 6000  # lines looked at
SEEN_OFTEN = 3  # times that a line is come to before what grows is widened


def no_end(course: Course, to: int) -> bool:
    """Whether no end can be reached from the position `to`, to which the course is about to go."""
    if not course.began:
        return False
    try:
        Outlook(course, begin(course, to)).walk()
    except Over:
        return False
    return True


def begin(course: Course, to: int) -> Standing:
    """Where the course stands, with each parameter as it is."""
    parameters = course.values.parameters
    ranges: Ranges = {var: one(held) for var, held in (*parameters.plain.items(), *parameters.names.items())
                      if not (isinstance(var, int) and is_live(var))}
    frames = tuple(Frame(c.begin, c.back, c.left > 1, c.hidden is not None) for c in course.calls)
    hidden = tuple({var: one(held) for var, held in (*(c.hidden or {}).items(), *(c.names or {}).items())}
                   for c in course.calls if c.hidden is not None)
    return Standing(to, frames, ranges, hidden)


class Outlook:
    """All ways from one place on."""

    def __init__(self, course: Course, start: Standing) -> None:
        self.start = start
        self.marks = counting.marks(course.blocks)
        self.limits = counting.limits(course, (start.ranges, *start.hidden))
        self.ways = Ways(course, self.limits)

    def walk(self) -> None:
        """Raises Over where an end may be reached."""
        seen: dict[tuple, tuple[Standing, int]] = {}
        waiting = [self.start]
        for _ in range(MOST_STEPS):
            if not waiting:
                return
            stand = waiting.pop()
            place = stand.at, stand.frames
            before, often = seen.get(place, (None, 0))
            if before is not None:
                joined = self._both(before, stand, often)
                if joined == before:
                    continue
                stand = joined
            seen[place] = stand, often + 1
            waiting += self.ways.on(stand)
        raise Over

    def _both(self, before: Standing, now: Standing, often: int) -> Standing:
        hidden = tuple(self._joined(a, b, often) for a, b in zip(before.hidden, now.hidden, strict=True))
        return Standing(now.at, now.frames, self._joined(before.ranges, now.ranges, often), hidden)

    def _joined(self, before: Ranges, now: Ranges, often: int) -> Ranges:
        joined: Ranges = {}
        for var in before.keys() | now.keys():
            a, b = before.get(var), now.get(var)
            if a is None or b is None:
                joined[var] = (a or b or EVERY).doubtful()
            else:
                joined[var] = self._wider(var, a, hull(a, b)) if often >= SEEN_OFTEN else hull(a, b)
        return joined

    def _wider(self, var: Var, a: Range, b: Range) -> Range:
        """What has grown goes on to the next mark, or as far as it can be counted."""
        low, high, most = b.low, b.high, self.limits.get(var, inf)
        if low < a.low:
            at = bisect_right(self.marks, low) - 1
            low = max(self.marks[at], -most) if at >= 0 else -most
        if high > a.high:
            at = bisect_left(self.marks, high)
            high = min(self.marks[at], most) if at < len(self.marks) else most
        return Range(low, high, b.whole, b.sure and isfinite(low) and isfinite(high))
