"""How much may be wrong in a stage, and what another zero would do, in rows.

The law: every figure is the Result's; here it is only put in words. No row promises anything: what is not
met in the figures may be met at the machine.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import isfinite

from ..parser.units import Units
from ..sim.slack import Bound
from ..sim.stage_figures import ClearanceFigures, HoldFigures, SlackFigures, StageFigures, ZeroFigures
from .layout import Row

NEAR = 25.0  # mm: what rides above the cutter is told on the first screen where it comes so near
ZEROS = {"board": "on the board's top", "bed": "on the bed", "face": "on what the facing left"}
SIDES = ("left", "right", "front", "back", "down", "up")


def holder_words(gap: ClearanceFigures, units: Units) -> str:
    """ "nut to front left: 3 mm free at line 12"."""
    how = "free" if gap.clearance >= 0 else "TOO LOW"
    return f"{gap.part} to {gap.about}: {units.text(abs(gap.clearance))} {how} at line {gap.line}"


def holder_rows(figures: StageFigures, units: Units, everything: bool) -> Iterator[Row]:
    """What rides above the cutter: its nearest body, or every one."""
    near = [gap for gap in figures.holder if everything or gap.clearance < NEAR]
    for gap in near if everything else near[:1]:
        yield Row("", holder_words(gap, units), one_line=not everything)


def slack_rows(figures: StageFigures, units: Units, everything: bool) -> Iterator[Row]:
    """How far from screws and clamps it cuts, what doubt the stage bears, what other zeros would do; with
    `everything` how far zero may be moved."""
    slack = figures.slack
    if figures.held is not None:
        yield Row("HELD", held_words(figures.held, units), one_line=not everything)
    if slack is not None and (everything or slack.z_zero.amount >= 0) and bears_words(slack, units):
        yield Row("BEARS", bears_words(slack, units))
    if slack is not None and everything:
        yield Row("SLACK", slack_words(slack, units))
    others = [zero_words(zero, units, everything) for zero in figures.zeros if not zero.chosen]
    if others:
        yield Row("ZERO", "; ".join(others))


def held_words(held: HoldFigures, units: Units) -> str:
    """The cut place farthest from what holds the board."""
    x, y = (units.digits(round(each, 1)) for each in held.at)
    return (f"farthest from a screw or clamp: {units.text(round(held.farthest, 1))} at X{x} Y{y}, line "
            f"{held.line}")


def bears_words(slack: SlackFigures, units: Units) -> str:
    """The doubt that just makes no strike; "" where nothing stands that could be met."""
    if slack.z_zero.by and slack.z_zero.amount < 0:
        return f"no doubt: {thing(slack.z_zero.by)} is met as it is"
    said = [(slack.z_zero, "Z zero {} too low"), (slack.head_z, "heads {} higher"),
            (slack.head_xy, "heads {} aside")]
    words = [text.format(units.text(limit.amount)) + f" ({limit.by})" for limit, text in said if limit.by]
    return ", or ".join(words)


def slack_words(slack: SlackFigures, units: Units) -> str:
    """How far zero may be moved each way, and what ends it."""
    limits = {side: getattr(slack, side) for side in SIDES}
    known = [f"{side} {_amount(limit, units)}" for side, limit in limits.items() if isfinite(limit.amount)]
    return "zero may be moved " + ", ".join(known)


def _amount(limit: Bound, units: Units) -> str:
    if not limit.by:
        return f"over {units.text(limit.amount)}"
    return f"{units.text(max(0.0, limit.amount))} ({limit.by})"


def zero_words(zero: ZeroFigures, units: Units, everything: bool = True) -> str:
    """What the program would do with that zero, worst first; or the worst alone."""
    does = []
    if zero.meets:
        does.append(f"meets {thing(zero.meets)} by {units.text(zero.overlap)}")
    if zero.rapid:
        does.append(f"rapids {units.text(zero.rapid)} into the board")
    if zero.depth is not None and zero.depth > 0:
        does.append(f"cuts {units.text(zero.depth)} deep")
    return f"{ZEROS[zero.name]}: {', '.join(does if everything else does[:1]) or 'cuts air'}"


def thing(about: str) -> str:
    """The bed has an article, what the job names has none."""
    return "the bed" if about == "bed" else about
