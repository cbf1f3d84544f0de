"""The stops of a stage in words: where cutter and nose stand, what is free to be moved, what is in the way.

The law: figures come from StopFigures; what the operator does at a stop stands with how the machine must
stand.
"""

from __future__ import annotations

from collections.abc import Iterator

from ..parser.finding import place
from ..parser.units import Units
from ..sim.result import StageFigures, StopFigures
from .layout import Row


def stop_rows(figures: StageFigures, units: Units) -> Iterator[Row]:
    """A row for each stop, in program order."""
    for number, stop in enumerate(figures.stops):
        yield Row("STOPS" if number == 0 else "", f"line {stop.line}: {'; '.join(said(stop, units))}")


def said(stop: StopFigures, units: Units) -> Iterator[str]:
    """What is to be known at a stop."""
    yield "where the tip stands is not known" if stop.tip is None else f"tip at {place(stop.tip, units)}"
    if stop.nose is not None:
        yield f"nut's face at Z{units.digits(stop.nose)} (board frame)"
    if stop.turning:
        yield "THE SPINDLE TURNS"
    if stop.clamps:
        yield f"free to be moved: {', '.join(stop.free) or 'none, each holds what is cut next'}"
    if stop.in_way:
        yield f"IN THE WAY before the next stop: {', '.join(stop.in_way)}"
