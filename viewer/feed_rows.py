"""How the cutters work and how long it takes, in words: chips, heat, power, the operator's knobs, time.

The law: every figure is FeedFigures' or TimeFigures' own; what is None there is not said here.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from ..parser.units import Units
from .layout import Row

if TYPE_CHECKING:
    from ..sim.stage_figures import StageFigures
    from ..sim.work_figures import FeedFigures, OverrideFigures, PassFigures, SpeedFigures

LEAVES = {"thin": "rubs", "thick": "overloaded", "power": "more than the spindle has",
          "feed": "the machine goes no faster", "marked": "over the cutter's mark",
          "fast": "the spindle turns no faster", "slow": "the spindle turns no slower", "": "right"}
SHORT = 0.05  # s: less is not worth a word
WIDTHS = (7, 20, 13, 11, 30)  # columns of the knob's table


def feed_words(feeds: FeedFigures, units: Units) -> str:
    """A cutter's work in a line or two."""
    return f"{feeds.cutter}: {', '.join(_usual(feeds, units)) or 'cuts nothing'}"


def _usual(feeds: FeedFigures, units: Units) -> Iterator[str]:
    if feeds.depth is not None:
        yield f"{units.text(feeds.depth)} deep"
    if feeds.step is not None:
        share = "" if feeds.step_percent is None else f" = {feeds.step_percent:.0f}% of its flat width"
        yield f"step {units.text(feeds.step)}{share}"
    if feeds.speed is not None:
        yield units.text(feeds.speed, "speed")
    if feeds.chip is not None:
        window = "" if feeds.window is None else f" ({reach(feeds.window, units, 'chip')} is right)"
        yield f"{reach(feeds.chip, units, 'chip')} an edge{window}"
    if feeds.rubbing is not None and feeds.rubbing > SHORT:
        yield f"rubs for {units.text(feeds.rubbing, 'time')}"


def more_words(feeds: FeedFigures, units: Units) -> str:
    """What there is to know besides, for those who ask for everything."""
    said = ", ".join(_more(feeds, units))
    return said[:1].upper() + said[1:]


def _more(feeds: FeedFigures, units: Units) -> Iterator[str]:
    if feeds.surface_speed is not None:
        yield f"its rim goes {feeds.surface_speed:.1f} m/s"
    if feeds.removal is not None:
        power = "" if feeds.power is None else f" for {units.text(feeds.power, 'power')}"
        yield f"{units.text(feeds.removal, 'volume')} a minute at most{power}"
    if feeds.down is not None:
        yield f"straight down at {reach(feeds.down, units, 'feed')}"
    if feeds.ramp is not None:
        yield f"slanting down at {feeds.ramp:.1f}° at most"
    if feeds.thinned is not None and feeds.sliver is not None:
        yield (f"{units.text(feeds.thinned, 'chip')} an edge on a strip {units.text(round(feeds.sliver, 1))} "
               "wide")
    if feeds.slowing is not None and feeds.slowing > SHORT:
        yield f"under its window for {units.text(feeds.slowing, 'time')} in corners"
    if feeds.feed_override is not None:
        low, high = feeds.feed_override
        yield f"right with the feed knob at {low:.0f}% to {high:.0f}%"
    if feeds.speed_override is not None:
        yield f"at its marked maximum with the speed knob at {feeds.speed_override:.0f}%"


def knob_rows(feeds: FeedFigures, units: Units) -> Iterator[Row]:
    """The tables over the operator's knobs, and what holds for both at once; nothing where no range was asked
    for."""
    if feeds.overrides:
        yield Row("KNOB", f"{feeds.cutter}, what the feed knob makes of it:")
        yield Row("", _columns("feed", "an edge", "time", "power"), one_line=True)
    for each in feeds.overrides:
        yield Row("", _columns(*knob_cells(each, units)), one_line=True)
    if feeds.speeds:
        yield Row("KNOB", f"{feeds.cutter}, what the knob for the spindle's speed makes of it:")
        yield Row("", _columns("speed", "an edge", "turns", "its rim"), one_line=True)
    for each in feeds.speeds:
        yield Row("", _columns(*speed_cells(each, units)), one_line=True)
    if feeds.overrides and feeds.speeds and feeds.feed_override is not None:
        low, high = feeds.feed_override
        yield Row("", f"both turned: right while the feed's setting is {low:.0f}% to {high:.0f}% of the "
                      "speed's")


def speed_cells(each: SpeedFigures, units: Units) -> tuple[str, str, str, str, str]:
    """(setting, chip, rpm, rim speed, what is wrong with it) of one row."""
    chip = "not known" if each.chip is None else reach(each.chip, units, "chip")
    return (f"{each.percent:g}%", chip, units.text(each.speed, "speed"), f"{each.rim:.1f} m/s",
            LEAVES[each.leaves])


def knob_cells(each: OverrideFigures, units: Units) -> tuple[str, str, str, str, str]:
    """(setting, chip, time, power, what is wrong with it) of one row."""
    chip = "not known" if each.chip is None else reach(each.chip, units, "chip")
    power = "not known" if each.power is None else units.text(each.power, "power")
    return f"{each.percent:g}%", chip, clock(each.seconds), power, LEAVES[each.leaves]


def _columns(*cells: str) -> str:
    return "".join(cell.ljust(width) for cell, width in zip(cells, WIDTHS, strict=False)).rstrip()


def time_words(figures: StageFigures, units: Units, everything: bool = True) -> str:
    """How long it takes and when it waits for the operator; with `everything`, where the time goes."""
    time, said = figures.time, clock(figures.seconds)
    if time is None:
        return said
    parts = [*_passes(time.passes, units)]
    parts += [f"{name} {clock(spent)}" for name, spent in (
        ("other feeds" if time.passes else "feeds", time.other_feeds), ("rapids", time.rapids),
        ("dwells", time.dwells)) if spent >= 0.5]
    waits = "; ".join(f"{_wait(each.code, each.cutter)} on line {each.line} after {clock(each.after)}"
                      for each in time.waits[:4])
    more = f" and {len(time.waits) - 4} more" if len(time.waits) > 4 else ""
    spent_on = f": {', '.join(parts)}" if parts and everything else ""
    return said + spent_on + (f"; waits: {waits}{more}" if waits else "")


def _passes(passes: tuple[PassFigures, ...], units: Units) -> Iterator[str]:
    if passes:
        spent = [each.seconds for each in passes]
        name = "pass" if len(passes) == 1 else "passes"
        yield f"{len(passes)} {name} of {reach((min(spent), max(spent)), units, 'time')}"


def _wait(code: str, cutter: int | None) -> str:
    return f"cutter {cutter}" if cutter is not None else code or "stop"


def reach(pair: tuple[float, float], units: Units, dimension: str) -> str:
    """ "0.03 to 0.25 mm"; one number where both read the same."""
    low, high = units.digits(pair[0], dimension), units.text(pair[1], dimension)
    return high if units.text(pair[0], dimension) == high else f"{low} to {high}"


def clock(seconds: float) -> str:
    """ "12 min 41 s"."""
    if seconds != seconds or seconds == float("inf"):
        return "unknown time"
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    parts = [(hours, "h"), (minutes, "min"), (rest, "s")]
    return " ".join(f"{number} {name}" for number, name in parts if number) or "0 s"
