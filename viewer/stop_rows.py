"""The stops of a stage and its holes as one pattern, in words: where cutter and nose stand, what is in the
way.

The law: figures come from StopFigures and FitFigures; what the operator does at a stop stands with how the
machine must stand.
"""

from __future__ import annotations

from collections.abc import Iterator

from ..parser.finding import place
from ..parser.units import Units
from ..sim.stage_figures import FitFigures, StageFigures, StopFigures
from .layout import Row

EXACT = 0.0005  # mm: a worst hole that is nearer than this reads as 0

def stop_rows(figures: StageFigures, units: Units) -> Iterator[Row]:
    """A row for each stop, in program order."""
    for number, stop in enumerate(figures.stops):
        yield Row("STOPS" if number == 0 else "", f"line {stop.line}: {'; '.join(said(stop, units))}")


def fit_rows(figures: StageFigures, units: Units) -> Iterator[Row]:
    """The holes as one pattern, against the wanted ones and the bed's."""
    for number, fit in enumerate(figures.fits):
        yield Row("HOLES" if number == 0 else "", fitted(fit, units))


def fitted(fit: FitFigures, units: Units) -> str:
    """How one pattern lies on the other."""
    against = "as wanted" if fit.against == "wanted" else "over the bed's holes"
    if fit.error < EXACT:
        return f"{fit.count} {against}: each is where it belongs"
    return (f"{fit.count} {against}: the worst is {units.text(fit.error)} off, the pattern shifted by "
            f"{place(fit.shift, units)}, turned by {fit.angle:.4f}°, scaled by {fit.scale:.6f}; with the "
            f"zero moved by {place(fit.back, units)} the worst is {units.text(fit.left)} off")


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
