"""The codes that mirror, scale and rotate what follows, and polar coordinates.

The law: a code changes the Warp of the frames and moves nothing. Source: trade practice, no published
source; a transformation that is not wholly written is refused, and hides every place until it ends.
"""

from __future__ import annotations

from dataclasses import replace
from math import atan2, cos, degrees, hypot, isfinite, radians, sin

from .control import Control, Reason
from .modes import Code
from .motion import PLANE_AXES
from .orders import Order
from .warp import PLAIN, Polar, Warp, in_force

LEAST_SCALE = 1e-6
THOUSANDTHS = 0.001  # P1000 is life size where numbers without a point count in steps


# --- the codes ---

def scaling(control: Control, order: Order, code: Code) -> None:
    """G51 X Y Z P (or I J K), G50."""
    warp = control.frames.warp or PLAIN
    control.bent.pop("G50", None)
    factors = (1.0, 1.0, 1.0) if code.name == "G50" else _factors(control, order)
    if factors is None:
        refuse(control, order, code, "G50")
    else:
        centre = _place(control, order)
        set_warp(control, replace(warp, factors=factors, centre=(centre[0], centre[1], centre[2])))


def _factors(control: Control, order: Order) -> tuple[float, float, float] | None:
    """One factor for all axes (P), or one for each (I J K); None where there is none, or it is nothing."""
    whole = order.values.get("P", 0.0)
    if "P" in order.words and control.rule("number.no_point") == "increment" and not order.pointed("P"):
        whole *= THOUSANDTHS
    x, y, z = (order.values.get(letter, whole) for letter in "IJK")
    usable = all(isfinite(f) and abs(f) > LEAST_SCALE for f in (x, y, z))
    return (x, y, z) if usable else None


def mirror(control: Control, order: Order, code: Code) -> None:
    """G51.1 with the place of the mirror on each axis, G50.1 (with axes: only those)."""
    warp = control.frames.warp or PLAIN
    places = dict(warp.mirror)
    named = [axis for axis in range(3) if "XYZ"[axis] in order.values]
    for axis in named or range(3):
        places.pop(axis, None)
    if code.name == "G51.1":
        places |= {axis: order.values["XYZ"[axis]] * control.frames.scale for axis in named}
    set_warp(control, replace(warp, mirror=tuple(sorted(places.items()))))


def rotation(control: Control, order: Order, code: Code) -> None:
    """G68 with the pivot in the plane in force and R in degrees, G69."""
    warp = control.frames.warp or PLAIN
    control.bent.pop("G69", None)
    if code.name == "G69":
        set_warp(control, replace(warp, angle=0.0))
        return
    angle = order.values.get("R")
    if angle is None or not isfinite(angle) or any(letter in order.values for letter in "IJK"):
        refuse(control, order, code, "G69")
        return
    first, second, _ = PLANE_AXES[control.modes.plane]
    place = _place(control, order)
    set_warp(control, replace(warp, angle=radians(angle), pivot=(place[first], place[second]),
                              axes=(first, second)))


def _place(control: Control, order: Order) -> list[float]:
    """The program point of a code's axis words; axes left out: where the tip is."""
    shift, scale = control.frames.shift, control.frames.scale
    here = [v - s for v, s in zip(control.here(), shift, strict=True)]
    return [order.values["XYZ"[a]] * scale if "XYZ"[a] in order.values else here[a] for a in range(3)]


def polar(control: Control, order: Order, code: Code) -> None:
    """G16 and G15."""
    control.polar = Polar() if code.name == "G16" else None


def refuse(control: Control, order: Order, code: Code, end: str) -> None:
    """A transformation that cannot be told: every place behind it is unknown until it ends."""
    control.say("transform-bad", order.of(code.group), about=code.name, code=code.name)
    numbers = {"code": code.name, "line": control.line, "does": "a transformation that is not wholly written"}
    control.bent[end] = "XYZ", Reason("lost-code", code.name, numbers)


def set_warp(control: Control, warp: Warp) -> None:
    control.frames.warp = in_force(warp)


# --- polar points ---

def from_polar(control: Control, order: Order, end: list[float]) -> None:
    """Replace the plane's coordinates of a target by what its radius and angle words mean (G90 only)."""
    state, shift, scale = control.polar, control.frames.shift, control.frames.scale
    first, second, _ = PLANE_AXES[control.modes.plane]
    radius, angle = order.values.get("XYZ"[first]), order.values.get("XYZ"[second])
    if state is None or (radius is None and angle is None):
        return
    if not state.known:
        here = control.here()
        a, b = here[first] - shift[first], here[second] - shift[second]
        state.radius, state.angle, state.known = hypot(a, b), degrees(atan2(b, a)), True
    state.radius = state.radius if radius is None else radius * scale
    state.angle = state.angle if angle is None else angle
    end[first] = shift[first] + state.radius * cos(radians(state.angle))
    end[second] = shift[second] + state.radius * sin(radians(state.angle))
