"""The order of execution as a table: one handler for each modal group and letter.

The law: NIST IR 6556, 3.8, Table 8, top to bottom. A handler knows its own group and nothing of the
others; what a code demands is in modes.py, what it does is here or in the room that its row names.
"""

from __future__ import annotations

from collections.abc import Callable

from . import arc_lines, compensation, drilling, motions, nurbs, offsets, splines, switches, transforms
from .control import Control
from .modes import CODES, QUADRANTS, Code, Group
from .orders import Order

Handler = Callable[[Control, Order, Code], None]
Mover = Callable[[Control, Order, str], None]


def feed_mode(control: Control, order: Order, code: Code) -> None:
    mode = int(code.name[1:])
    if mode != control.modes.feed_mode and "F" not in order.values:
        control.feed = None  # a number per minute is none per turn
    control.modes.feed_mode = mode


def plane(control: Control, order: Order, code: Code) -> None:
    control.modes.plane = int(code.name[1:])


def units(control: Control, order: Order, code: Code) -> None:
    inch = control.rule("units.codes").get(code.name, "mm") == "inch"
    control.choose_units(inch, order.of(Group.UNITS), "F" in order.values)


def distance(control: Control, order: Order, code: Code) -> None:
    control.modes.absolute = code.name == "G90"


def centres(control: Control, order: Order, code: Code) -> None:
    """G90.1 and G91.1; G74 and G75 where they choose the quadrants of arcs."""
    if code.name in QUADRANTS:
        control.modes.single = code.name == "G74"
    else:
        control.modes.centres_absolute = code.name == "G90.1"


def level(control: Control, order: Order, code: Code) -> None:
    control.modes.to_r = code.name == "G99"


def nothing(control: Control, order: Order, code: Code) -> None:
    """No path changes: exact stop, blending, override knobs, S as revolutions."""


def ending(control: Control, order: Order, code: Code) -> None:
    """G40, G8 and the like: what they end is over."""
    control.bent.pop(code.name, None)


def once(control: Control, order: Order, code: Code) -> None:
    ONCE[code.name](control, order, code.name)


def no_motion(control: Control, order: Order, code: str) -> None:
    """G80: nothing moves until another motion code comes."""


ONCE: dict[str, Mover] = {
    "G10": offsets.data, "G28": motions.home, "G30": motions.home, "G28.1": offsets.store_home,
    "G30.1": offsets.store_home, "G52": offsets.local, "G92": offsets.preload, "G92.1": offsets.end_preload,
    "G92.2": offsets.end_preload, "G92.3": offsets.end_preload, "G31": motions.probe,
}

MOTION: dict[str, Mover] = {
    "G0": motions.straight, "G1": motions.straight, "G80": no_motion,
    **{f"G38.{n}": motions.probe for n in (2, 3, 4, 5)},
    "G2": arc_lines.arc, "G3": arc_lines.arc, "G5": splines.spline, "G5.1": splines.spline,
    "G5.2": nurbs.gather, "G5.3": nurbs.run,
    "G33": splines.thread, "G33.1": splines.thread,
    **{code.name: drilling.drill for code in CODES.values() if code.drills},
}

ORDER: tuple[tuple[Group | str, Handler], ...] = (
    (Group.FEED_MODE, feed_mode), ("F", switches.feed), ("S", switches.speed), ("T", switches.choose),
    (Group.CHANGE, switches.change), (Group.SPINDLE, switches.spindle), (Group.COOLANT, switches.coolant),
    (Group.OVERRIDE, nothing), (Group.DWELL, switches.dwell), (Group.PLANE, plane), (Group.UNITS, units),
    (Group.RADIUS, compensation.switch), (Group.DIAMETER, ending), (Group.LENGTH, offsets.length),
    (Group.SYSTEM, offsets.system), (Group.PATH, nothing), (Group.SPEED_MODE, nothing),
    (Group.DISTANCE, distance), (Group.CENTRES, centres), (Group.RETURN, level), (Group.USER, nothing),
    (Group.MACRO, nothing), (Group.CALL, nothing), (Group.MIRROR, transforms.mirror),
    (Group.SCALING, transforms.scaling), (Group.ROTATION, transforms.rotation),
    (Group.POLAR, transforms.polar),
)
NO_CODE = Code("", Group.ONCE)  # what F, S and T bring with them
HANDLERS = {trigger: (rank, handler) for rank, (trigger, handler) in enumerate(ORDER)}
