"""Going on from a line in the middle of a program, after a stop that nobody planned: where, and with what.

The law: a program is entered only by a rapid that begins above the board and above all that stands, with
every code named that the lines before it had set; what cannot be told from the program is not guessed: a
line in a loop or a subprogram, one that is never reached, one before whose place nothing is known. What the
machine lost (its place, its cutter, its zero) is never seen. Millimetres, board frame.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ..parser.blocks import read_blocks
from ..parser.dialect import Dialect
from ..parser.modes import CODES, Group, key
from ..parser.motion import Happening, Motion, Move, State
from ..parser.written import Block, Number
from .result import StageRecord

MODAL = (Group.UNITS, Group.PLANE, Group.DISTANCE, Group.CENTRES, Group.FEED_MODE, Group.RADIUS, Group.LENGTH,
         Group.SYSTEM, Group.PATH, Group.SPEED_MODE, Group.SCALING, Group.ROTATION, Group.RETURN)
OVER = 5.0  # mm over all that stands on the way to an entry; common practice, no published source
MOVERS = frozenset({10.0, 51.0, 52.0, 68.0, 92.0})  # what sets a zero, scales or turns, besides G54 …
Place = tuple[float, float, float]


@dataclass(frozen=True)
class Entry:
    """A line from which a program may go on: the tip as its first move begins, as the board and the control
    have it; seconds of the program before it."""

    line: int
    at: Place
    shown: Place
    before: float


@dataclass(frozen=True)
class Resume:
    """How to go on at or near a line.

    why_not: why not at the line itself ("cut", "low", "cycle", "place"), "" where it may be · at: the tip as
    the line begins, as the control shows it (None: not known) · back, forth: the last entry at or before the
    line, the first after it · highest, over: Z of the highest thing that stands then, and what it is · codes:
    set by the lines before the entry `back`, by their groups · state, feed: what holds there · seconds: of
    the whole program · moved: codes before the entry that moved a zero or turned the axes, with their lines.
    """

    line: int
    why_not: str
    at: Place | None
    back: Entry | None
    forth: Entry | None
    highest: float
    over: str
    codes: tuple[str, ...]
    state: State
    feed: float | None
    seconds: float
    moved: tuple[str, ...] = ()

    @property
    def above(self) -> float | None:
        """Z, as the control shows it, at which the way to the entry `back` is clear of all that stands."""
        if self.back is None:
            return None
        return max(self.highest + OVER - self.state.shift[2], self.back.shown[2])


class NoResume(ValueError):
    """Nothing can be said about going on at a line; the message says why."""


def resume_at(record: StageRecord, line: int, dialect: Dialect) -> Resume:
    """Going on at a line of a stage's program. Raises NoResume."""
    motion = record.reading.motion
    if (np.diff(motion.line) < 0).any():
        raise NoResume("lines of this program run more than once (a loop or a subprogram), so that a line is "
                       "no moment of it: go on at a call or a pass of your own choice, by hand")
    rows = np.flatnonzero(motion.line >= line)
    if not len(rows):
        raise NoResume(f"no move is made at line {line} or after it")
    row = int(rows[0])
    top, name = highest_over(record, row)
    blocks = read_blocks(record.reading.source, dialect)[0]
    aside = compensated(blocks)
    entries = [each for each in entered(record, top) if not any(a < each.line <= b for a, b in aside)]
    back = next((each for each in reversed(entries) if each.line <= line), None)
    forth = next((each for each in entries if each.line > line), None)
    begins = row if back is None else int(np.flatnonzero(motion.line == back.line)[0])
    before = [block for block in blocks if block.line < int(motion.line[begins])]
    placed = bool(np.isfinite(motion.start[row]).all())
    exact = back is not None and back.line == int(motion.line[row])
    return Resume(
        line, "" if exact else why_not(motion, row, top), shown(motion, row) if placed else None, back, forth,
        top, name, tuple(codes_of(before)), motion.states[motion.state[begins]], feed_before(motion, begins),
        seconds_before(record, len(motion)), tuple(movers_of(before)))


def entered(record: StageRecord, top: float) -> Iterator[Entry]:
    """Every line that begins with a rapid from above all that stands, outside drilling cycles."""
    motion = record.reading.motion
    first = np.concatenate(([True], motion.line[1:] != motion.line[:-1]))[:len(motion)]
    known = np.isfinite(motion.start).all(axis=1) & motion.placed
    inside = np.concatenate(([False], motion.cycle[:-1])) & motion.cycle
    above = known & (motion.start[:, 2] > top) & (motion.kind == Move.RAPID) & first & ~inside
    for row in np.flatnonzero(above).tolist():
        x, y, z = motion.start[row].tolist()
        yield Entry(int(motion.line[row]), (x, y, z), shown(motion, row), seconds_before(record, row))


def why_not(motion: Motion, row: int, top: float) -> str:
    """Why a program is not entered where a move begins."""
    if not np.isfinite(motion.start[row]).all():
        return "place"
    if motion.cycle[row]:
        return "cycle"
    return "low" if motion.start[row, 2] <= top and not motion.is_feed[row] else "cut"


def highest_over(record: StageRecord, row: int) -> tuple[float, str]:
    """Z of the highest thing that a way to any place may meet at a move: the board before the stage, heads,
    clamps, obstacles; and its name."""
    number = max(0, int(np.searchsorted(record.since, row, side="right")) - 1)
    stands = record.solids[number].tall if record.solids else ()
    tops = [(float(np.nanmax(record.cut.before, initial=-np.inf)), "the board"),
            *((body.top, body.about) for body in stands)]
    return max(tops, key=lambda each: each[0])


def shown(motion: Motion, row: int) -> Place:
    """The tip as a move begins, as the control shows it."""
    x, y, z = motion.start[row].tolist()
    return motion.shown(row, (x, y, z))


def seconds_before(record: StageRecord, row: int) -> float:
    """Seconds of all moves and dwells before one."""
    waited = sum(event.value for event in record.reading.motion.events
                 if event.kind is Happening.DWELL and event.before <= row)
    return waited + (0.0 if record.seconds is None else float(record.seconds[:row].sum()))


def feed_before(motion: Motion, row: int) -> float | None:
    """The feed of the last move at feed before a move; None where none was given."""
    known = motion.feed[:row][np.isfinite(motion.feed[:row])]
    return float(known[-1]) if len(known) else None


def codes_of(blocks: Sequence[Block]) -> Iterator[str]:
    """The last code of each modal group on some lines, in the groups' usual order; then the rapid that a
    program is entered with."""
    last: dict[Group, str] = {}
    for block in blocks:
        last |= dict(codes_in(block))
    yield from (last[group] for group in MODAL if group in last)
    yield "G0"


def compensated(blocks: Sequence[Block]) -> list[tuple[int, float]]:
    """(line of G41 or G42, line of the G40 after it) of all stretches with cutter radius compensation: none
    is begun in its middle."""
    found: list[tuple[int, float]] = []
    begun: int | None = None
    for block in blocks:
        for group, name in codes_in(block):
            if group is Group.RADIUS and name == "G40" and begun is not None:
                found.append((begun, block.line))
                begun = None
            elif group is Group.RADIUS and name != "G40" and begun is None:
                begun = block.line
    return found if begun is None else [*found, (begun, float("inf"))]


def movers_of(blocks: Sequence[Block]) -> Iterator[str]:
    """The codes on some lines that moved a zero, scaled or turned the axes: "G92 on line 5"."""
    for block in blocks:
        for word in block.words:
            if word.letter == "G" and isinstance(word.value, Number) and word.value.value in MOVERS:
                yield f"G{word.value.value:g} on line {block.line}"


def codes_in(block: Block) -> Iterator[tuple[Group, str]]:
    """The G codes of a line that are written as plain numbers; G43 and G44 with their H."""
    values = {word.letter: word.value.value for word in block.words if isinstance(word.value, Number)}
    for word in block.words:
        code = CODES.get(key("G", word.value.value) or -1) if word.letter == "G" and isinstance(
            word.value, Number) else None
        if code is not None:
            number = f" H{values['H']:g}" if code.group is Group.LENGTH and "H" in values else ""
            yield code.group, f"{code.name}{number}"
