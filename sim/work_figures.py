"""How cutters work in a stage and how long it takes, in figures: chips, heat, power, knobs, passes, waits.

The law: frozen data without a word for a screen; None where a figure is not known. Millimetres, mm/min, rpm,
seconds, kW.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class OverrideFigures:
    """What the operator's feed knob at `percent` makes of a cutter's work: chips (mm an edge), seconds of the
    whole stage, kW; `leaves` says how it leaves what is right: "thin", "thick", "feed" (the machine's most),
    "power", "" where it does not."""

    percent: float
    chip: tuple[float, float] | None
    seconds: float
    power: float | None
    leaves: str = ""


@dataclass(frozen=True)
class SpeedFigures:
    """What the knob for the spindle's speed at `percent` makes of a cutter's work, the feed as programmed:
    rpm (the usual one), its rim's speed (m/s), chips (mm an edge); `leaves`: "marked" (over the cutter's
    mark), "fast", "slow" (the spindle turns no faster, no slower), "thin", "thick", "" where it is right."""

    percent: float
    speed: float
    rim: float
    chip: tuple[float, float] | None
    leaves: str = ""


@dataclass(frozen=True)
class FeedFigures:
    """A cutter's cutting in a stage (None: unknown). Lengths mm, feeds mm/min, speed rpm.

    chip, window: mm an edge, what it takes and what is right · surface_speed: of its rim, m/s · down: feeds
    straight down into material · ramp: steepest other way down into it, degrees · removal: greatest, mm³/min,
    and `power` for it, kW · rubbing: s in material with feeds under the window, slowing: s under it while the
    machine slows down and speeds up, longest_slow: at one corner, s · thinned: least greatest chip where less
    than half the cutter is engaged, mm, over a strip `sliver` wide · feed_override: percent of the programmed
    feed within the window · speed_override: percent of the programmed speed at the marked maximum.
    """

    cutter: str
    speed: float | None
    feeds: tuple[float, float] | None
    chip: tuple[float, float] | None
    window: tuple[float, float] | None
    depth: float | None = None
    step: float | None = None
    step_percent: float | None = None
    surface_speed: float | None = None
    down: tuple[float, float] | None = None
    ramp: float | None = None
    removal: float | None = None
    power: float | None = None
    rubbing: float | None = None
    slowing: float | None = None
    longest_slow: float | None = None
    thinned: float | None = None
    sliver: float | None = None
    feed_override: tuple[float, float] | None = None
    speed_override: float | None = None
    overrides: tuple[OverrideFigures, ...] = ()
    speeds: tuple[SpeedFigures, ...] = ()


@dataclass(frozen=True)
class PassFigures:
    """A long straight level way at feed: program lines, ends of the tip's path, mm, seconds."""

    line: int
    last_line: int
    start: tuple[float, float, float]
    end: tuple[float, float, float]
    length: float
    seconds: float


@dataclass(frozen=True)
class WaitFigures:
    """A stop or change of cutter (then its number) that waits for the operator; s of running before."""

    line: int
    code: str
    cutter: int | None
    after: float


@dataclass(frozen=True)
class TimeFigures:
    """Seconds of a stage: in passes, in all other feed moves, in rapids, in dwells. `accelerated`: speeding
    up and slowing down are counted."""

    passes: tuple[PassFigures, ...] = ()
    in_passes: float = 0.0
    other_feeds: float = 0.0
    rapids: float = 0.0
    dwells: float = 0.0
    waits: tuple[WaitFigures, ...] = ()
    accelerated: bool = False


@dataclass(frozen=True)
class Hardest:
    """The move of a stage that a column of its effort (sim/effort.py) is greatest in: which column, how much,
    the program's line, and where in plan it cut deepest."""

    what: str
    value: float
    line: int
    at: tuple[float, float]
