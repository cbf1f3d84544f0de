"""Codes that shift the numbers and move nothing: work offsets, G10, G52, the G92 family, tool length.

The law: the machine stands still while its numbers change [NIST IR 6556, 2.1.2.10]; only a cutter's place
is physical, so a handler changes `Frames` and never the tip.
"""

from __future__ import annotations

from math import isfinite, isnan, radians

from .control import Control, Reason
from .cutter_table import refuse, write
from .frames import FURTHER, MOST_FURTHER, NOWHERE, SYSTEM_NAMES, system_name
from .modes import Code, Group
from .motion import Move
from .orders import Order, whole

ROWS = frozenset({1.0, 10.0, 11.0, 12.0, 13.0})  # L of G10 that write the table of cutters
SAME_LENGTH = 1e-6  # mm
SYSTEM_NUMBERS = {name: number for number, name in SYSTEM_NAMES.items()}


def system(control: Control, order: Order, code: Code) -> None:
    """G54 to G59.3, G54.1 P1 and on."""
    number = SYSTEM_NUMBERS.get(code.name)
    if number is None:
        further = whole(control, order, "P", 1, MOST_FURTHER) if "P" in order.values else None
        if further is None:
            order.lost = True
            return
        number = FURTHER + further
    control.frames.select(number)
    shifted(control, Reason("lost-offset", system_name(number), {"code": system_name(number)}))


def shifted(control: Control, reason: Reason) -> None:
    """The shift changed; where it is not known now, `reason` says why."""
    control.renew()
    if any(isnan(value) for value in control.frames.shift):
        control.offset_reason = reason


def length(control: Control, order: Order, code: Code) -> None:
    """G43 and its kin, G49."""
    control.bent.pop("G49", None)
    control.stale = False
    before = control.frames.shift[2]
    if code.name == "G49":
        control.frames.length, control.in_force = 0.0, None
    elif code.name == "G43.1":
        _written_length(control, order)
    elif "H" in order.values:
        _length_of(control, order, code.name)
    elif control.rule("tlo.no_h") == "error" or code.name != "G43":
        control.say("word-missing", order.of(Group.LENGTH), about=code.name, code=code.name, letter="H")
    elif control.rule("tlo.no_h") == "tool":
        control.in_force = control.frames.cutter
        control.frames.length = control.frames.table.get(control.frames.cutter or 0, 0.0)
    control.renew()
    if control.rule("tlo.motion") == "immediate":
        x, y, z = control.tip
        control.go(Move.RAPID, (x, y, z + control.frames.shift[2] - before), named=(2,), machine=True)


def _written_length(control: Control, order: Order) -> None:
    """G43.1 with the length itself: Z is simulated, a shift of X and Y hides both."""
    if not order.axes:
        control.say("word-missing", order.of(Group.LENGTH), about="G43.1", code="G43.1", letter="Z")
        return
    frames, value = control.frames, order.values.get("Z")
    if value is not None:
        frames.length = frames.written_length(value * frames.scale)
        own = frames.lengths.get(-1 if frames.cutter is None else frames.cutter)
        if own is not None and abs(frames.length - own) > SAME_LENGTH:
            control.say("length-written", order.span("Z"), about="G43.1", off=abs(frames.length - own),
                        cutter=frames.cutter, side="higher" if frames.length > own else "lower")
    if order.values.get("X") or order.values.get("Y"):
        numbers = {"code": "G43.1", "line": control.line, "does": "a cutter that hangs beside the axis"}
        control.bent["G49"] = "XY", Reason("lost-code", "G43.1", numbers)


def _length_of(control: Control, order: Order, code: str) -> None:
    """The table's length: G43 takes it, G43.2 adds it to what is in force, G44 takes it off."""
    number = whole(control, order, "H", 0, 9999)
    if number is None:
        return
    frames = control.frames
    length = frames.table.get(number, 0.0) if number else 0.0
    if code == "G43.2":
        _added(control, number, length)
        return
    control.in_force = number
    if code == "G44":
        control.say("length-negative", order.of(Group.LENGTH), about="G44", number=number)
        frames.length = -length
        return
    frames.length = length
    own = frames.lengths.get(-1 if frames.cutter is None else frames.cutter)
    if number and not frames.lengths and frames.cutter is not None and number != frames.cutter:
        control.say("length-of-another", order.span("H"), about="H", number=number, cutter=frames.cutter)
    if own is not None and number != frames.cutter and frames.length != own:
        control.say("length-of-other", order.span("H"), about="H", number=number, cutter=frames.cutter,
                    off=abs(frames.length - own), side="higher" if frames.length > own else "lower")


def _added(control: Control, number: int, length: float) -> None:
    """A second offset; where the job gives lengths and not this one, Z is unknown."""
    if number in control.frames.table or not number or not control.frames.lengths:
        control.frames.length += length
    else:
        control.bent["G49"] = "Z", Reason("lost-row", "G43.2", {"number": number, "line": control.line})


# --- G10 ---

def data(control: Control, order: Order, code: str) -> None:
    """G10 L2 and L20: a work system's origin, by machine coordinates or by where the tip is; L1, L10 and on:
    the table of cutters."""
    if "L" not in order.values or "P" not in order.values:
        return
    kind = order.values["L"]
    if kind in ROWS and control.rule("g10.tools") != "error":
        write(control, order, round(kind))
        return
    handler = {2.0: _by_register, 20.0: _by_place}.get(round(kind) if isfinite(kind) else -1)
    if handler is None:
        refuse(control, order, f"G10 L{kind:g}", "writes a table of the control")
        return
    if order.values["P"] == 0:
        control.doubt("g10.p0", order.span("P"), "G10 P0")
    further = kind == 20 and control.rule("g10.l20") == "extended"
    least = 0 if control.rule("g10.p0") == "active" and not further else 1
    number = whole(control, order, "P", least, MOST_FURTHER if further else 9)
    if number is not None:
        handler(control, order, number or control.frames.system)


def _by_register(control: Control, order: Order, number: int) -> None:
    frames, scale = control.frames, control.frames.scale
    if "R" in order.values:
        _turn(control, order, number)
    added = not control.modes.absolute and control.rule("g10.l2_g91") == "added"
    for axis in named(order):
        value = order.values["XYZ"[axis]] * scale
        if added:
            frames.origins.setdefault(number, list(NOWHERE))[axis] += value
        else:
            frames.set_origin(number, axis, value)
    control.stored.add(number)
    if not control.modes.absolute:
        control.doubt("g10.l2_g91", order.of(Group.ONCE), "G10 L2")
    shifted(control, Reason("lost-register", "G10", {"code": "G10", "line": control.line}))


def _turn(control: Control, order: Order, number: int) -> None:
    """R: the system is turned about its origin, degrees counter-clockwise."""
    angle = order.values["R"]
    if control.rule("g10.l2_r") != "turns" or not isfinite(angle):
        refuse(control, order, "G10 R", "turns the work offset")
    else:
        control.frames.turns[number] = radians(angle % 360.0)


def _by_place(control: Control, order: Order, number: int) -> None:
    control.doubt("g10.l20", order.of(Group.ONCE), "G10 L20")
    if control.rule("g10.l20") == "extended":
        _by_register(control, order, FURTHER + number)
        return
    if control.rule("g10.l20") == "error":
        refuse(control, order, "G10 L20", "is refused here")
        return
    control.stored.add(number)
    frames = control.frames
    wanted = {axis: order.values["XYZ"[axis]] * frames.scale for axis in named(order)}
    if frames.turned(number) or frames.turned(frames.system):
        frames.set_turned_origin_here(number, control.tip, wanted)
    else:
        for axis, value in wanted.items():
            frames.set_origin_here(number, axis, control.here()[axis], value)
    shifted(control, from_tip(control, "G10 L20"))


def from_tip(control: Control, name: str) -> Reason:
    return Reason("lost-here", name, {"code": name, "line": control.line})


def named(order: Order) -> list[int]:
    return [axis for axis in range(3) if "XYZ"[axis] in order.values]


# --- G52, G92 ---

def local(control: Control, order: Order, code: str) -> None:
    """G52: a further shift, by the place of the new zero; zeros end it."""
    rule = control.rule("g52.kind")
    for axis in named(order):
        value = order.values["XYZ"[axis]] * control.frames.scale
        if rule == "same_as_g92":
            control.frames.g92[axis] = control.frames.g92_kept[axis] = value
        else:
            control.frames.g52[axis] = value
    shifted(control, control.offset_reason)


def preload(control: Control, order: Order, code: str) -> None:
    """G92: the current point gets the coordinates that are written."""
    values = order.values
    if not order.axes and {"S", "E"}.isdisjoint(values) and control.rule("g92.bare") == "zero":
        values = {**values, "X": 0.0, "Y": 0.0, "Z": 0.0}
    axes = [axis for axis in range(3) if "XYZ"[axis] in values]
    for axis in axes:
        control.frames.set_g92(axis, control.here()[axis], values["XYZ"[axis]] * control.frames.scale)
    if not axes and not order.axes and {"S", "E"}.isdisjoint(values):  # E: a printer's filament
        control.say("word-missing", order.of(Group.ONCE), about="G92", code="G92", letter="X, Y or Z")
    shifted(control, from_tip(control, "G92"))


def end_preload(control: Control, order: Order, code: str) -> None:
    """G92.1, G92.2 and G92.3."""
    if code != "G92.3":
        control.frames.end_g92(forget=code == "G92.1")
    else:
        if "G92" not in control.modes.said:
            control.say("g92-restored", order.of(Group.ONCE), about="G92.3")
        control.frames.restore_g92()
    shifted(control, control.offset_reason)


def store_home(control: Control, order: Order, code: str) -> None:
    """G28.1 and G30.1: the present machine position becomes the stored one."""
    place = [control.frames.to_machine(axis, control.tip[axis]) for axis in range(3)]
    if code == "G28.1":
        control.home28 = place
    else:
        control.home30 = place
