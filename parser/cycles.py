"""Drilling cycles: what each does in the hole, as strokes along the drilling axis.

The law: pure geometry. A cycle is a row of the table; it is told R, the bottom, the level to go back to
and the words that it takes, and says its strokes in order [NIST IR 6556, 3.5.16]. Where the hole is,
which axis drills and what a stroke costs is the interpreter's.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from enum import IntEnum
from types import MappingProxyType

EPSILON = 1e-9


class Stroke(IntEnum):
    RAPID = 0  # to a height
    FEED = 1  # to a height
    DWELL = 2  # for seconds
    STILL = 3  # the spindle stops
    TURN = 4  # the spindle turns again as before
    ASIDE = 5  # sideways by the shift
    BACK = 6  # and back over the hole


Strokes = Iterator[tuple[Stroke, float]]


@dataclass(frozen=True, slots=True)
class Bore:
    """One hole along the drilling axis, mm: R level, bottom, the level of the last retract, peck depth,
    dwell in seconds, and the dialect's small print: the level between pecks and the back-off above the
    last bottom (G83), the retract that breaks the chip (G73), the height that a bore is fed up to (G87)."""

    r: float
    bottom: float
    clear: float
    peck: float = 0.0
    dwell: float = 0.0
    between: float = 0.0
    backoff: float = 0.254
    nick: float = 0.254
    upper: float = 0.0


def bottoms(bore: Bore) -> Iterator[float]:
    """Where each peck ends: R - Q, R - 2Q, … and the bottom; no extra peck of no length."""
    if bore.peck <= 0:
        yield bore.bottom
        return
    count = 1
    while (depth := bore.r - count * bore.peck) > bore.bottom + EPSILON:
        yield depth
        count += 1
    yield bore.bottom


def drill(bore: Bore) -> Strokes:
    """G81, and G82 with its dwell."""
    yield Stroke.FEED, bore.bottom
    yield from wait(bore)
    yield Stroke.RAPID, bore.clear


def bore_out(bore: Bore) -> Strokes:
    """G85, G89 with its dwell, and tapping, whose reversal at the bottom moves nothing: out at feed."""
    yield Stroke.FEED, bore.bottom
    yield from wait(bore)
    yield Stroke.FEED, bore.clear


def bore_still(bore: Bore) -> Strokes:
    """G86: the spindle stops before the retract and turns again after it."""
    yield Stroke.FEED, bore.bottom
    yield from wait(bore)
    yield Stroke.STILL, 0.0
    yield Stroke.RAPID, bore.clear
    yield Stroke.TURN, 0.0


def peck(bore: Bore) -> Strokes:
    """G83: full retracts between pecks."""
    last = bore.r
    for depth in bottoms(bore):
        if last != bore.r:
            yield Stroke.RAPID, bore.between
            yield Stroke.RAPID, min(last + bore.backoff, bore.between)
        yield Stroke.FEED, depth
        last = depth
    yield from wait(bore)
    yield Stroke.RAPID, bore.clear


def chip_break(bore: Bore) -> Strokes:
    """G73: a small retract between pecks."""
    last = bore.r
    for depth in bottoms(bore):
        if last != bore.r:
            yield Stroke.RAPID, min(last + bore.nick, bore.r)
        yield Stroke.FEED, depth
        last = depth
    yield from wait(bore)
    yield Stroke.RAPID, bore.clear


def fine_bore(bore: Bore) -> Strokes:
    """G76: the spindle stops at an angle, the edge is moved off the wall, then the retract."""
    yield Stroke.FEED, bore.bottom
    yield from wait(bore)
    yield from _turned_away(bore.clear)


def back_bore(bore: Bore) -> Strokes:
    """G87 of the report: down beside the hole's wall, up at feed and down again [3.5.16.8]."""
    yield from _turned_away(bore.bottom)
    yield Stroke.FEED, bore.upper
    yield Stroke.FEED, bore.bottom
    yield from _turned_away(bore.clear)


def back_bore_up(bore: Bore) -> Strokes:
    """G87 of user-macro controls: R is the bottom, Z the height that is bored up to."""
    yield from _turned_away(bore.r)
    yield Stroke.FEED, bore.bottom
    yield from wait(bore)
    yield from _turned_away(bore.clear)


def _turned_away(height: float) -> Strokes:
    """A rapid along the axis with the edge off the wall."""
    yield Stroke.STILL, 0.0
    yield Stroke.ASIDE, 0.0
    yield Stroke.RAPID, height
    yield Stroke.BACK, 0.0
    yield Stroke.TURN, 0.0


def wait(bore: Bore) -> Strokes:
    if bore.dwell > 0:
        yield Stroke.DWELL, bore.dwell


@dataclass(frozen=True, slots=True)
class Cycle:
    """A row of the table: its strokes, whether it dwells, pecks, and needs a turning spindle, clockwise (1)
    or the other way (-1); whether it moves aside (and needs words for that), and begins at the bottom."""

    strokes: Callable[[Bore], Strokes]
    dwells: bool = False
    pecks: bool = False
    turning: bool = False
    way: int = 0
    aside: bool = False
    upward: bool = False


CYCLES: Mapping[str, Cycle] = MappingProxyType({  # by the names that dialects give their cycle codes
    "chip_break": Cycle(chip_break, pecks=True),
    "drill": Cycle(drill),
    "dwell": Cycle(drill, dwells=True),
    "peck": Cycle(peck, pecks=True),
    "tap": Cycle(bore_out, turning=True, way=1),
    "left_tap": Cycle(bore_out, turning=True, way=-1),
    "feed_out": Cycle(bore_out),
    "stop_out": Cycle(bore_still, dwells=True, turning=True),
    "by_hand": Cycle(bore_still, dwells=True, turning=True),
    "dwell_feed_out": Cycle(bore_out, dwells=True),
    "fine_bore": Cycle(fine_bore, dwells=True, turning=True, aside=True),
    "back_bore": Cycle(back_bore, turning=True, aside=True),
    "back_bore_up": Cycle(back_bore_up, dwells=True, turning=True, aside=True, upward=True),
})


class Sticky:
    """The numbers that a cycle keeps from line to line, as written: R, the bottom, P, Q; never L."""

    __slots__ = ("absolute", "code", "numbers", "series_level")

    def __init__(self) -> None:
        self.forget()

    def forget(self) -> None:
        """No cycle is in force any more."""
        self.code: str = ""
        self.absolute: dict[str, bool] = {}  # whether G90 held when the number was written
        self.numbers: dict[str, float] = {}
        self.series_level: float | None = None

    def enter(self, code: str, height: float, all_cycles: bool) -> None:
        """`code` comes into force at a height; with `all_cycles` numbers survive a change of code."""
        if self.series_level is None:
            self.series_level = height
        if code != self.code and not all_cycles:
            self.numbers = {}
        self.code = code
