"""The control's table of cutters, written by a program: G10 L1, L10 to L13.

The law: a row tells the control how long and how wide a cutter is; it moves nothing, and a length counts from
the next G43 on. Two readings, by the dialect: a row by its Z and R, or a register by R. Source: practice.
"""

from __future__ import annotations

from .control import Control, Reason
from .modes import Group
from .orders import Order, whole

HIGHEST = 9999
THIRD_SYSTEM = 9  # G59.3, from whose zero L11 counts


def write(control: Control, order: Order, kind: int) -> None:
    """G10 L`kind` P: a row of the table."""
    number = whole(control, order, "P", 1, HIGHEST)
    if number is None:
        return
    reading = control.rule("g10.tools")
    control.doubt("g10.tools", order.of(Group.ONCE), f"G10 L{kind}")
    if reading == "registers":
        _register(control, order, kind, number)
    elif kind in (12, 13):
        refuse(control, order, f"G10 L{kind}", "writes a table of the control")
    else:
        _row(control, order, kind, number)


def _row(control: Control, order: Order, kind: int, number: int) -> None:
    """Z is the length, or (L10, L11) what Z is to read where the cutter stands; R is the radius."""
    frames, scale, values = control.frames, control.frames.scale, order.values
    if "Z" in values:
        value = values["Z"] * scale
        if kind != 1:
            value = control.here()[2] - value - _zero(control, kind) + frames.lengths.get(number, 0.0)
        frames.table[number] = value if kind != 1 or number in frames.lengths else 0.0
    if "R" in values:
        control.diameters[number] = 2 * values["R"] * scale
    if values.get("X") or values.get("Y"):
        refuse(control, order, f"G10 L{kind}", "hangs a cutter beside the axis")


def _zero(control: Control, kind: int) -> float:
    """Where the Z is zero that the row is counted from, with no length in force."""
    frames = control.frames
    system = frames.system if kind == 10 else THIRD_SYSTEM
    shifts = frames.g92[2] + frames.g52[2] if kind == 10 else 0.0
    return frames.origins[system][2] + shifts


def _register(control: Control, order: Order, kind: int, number: int) -> None:
    """R: length (L10, an old L1), wear of it (L11), radius (L12), wear of it (L13)."""
    if "R" not in order.values:
        control.say("word-missing", order.of(Group.ONCE), about="G10", code=f"G10 L{kind}", letter="R")
        return
    value, frames = order.values["R"] * control.frames.scale, control.frames
    if kind in (1, 10):
        frames.table[number] = value if number in frames.lengths else 0.0
    elif kind == 11:
        frames.table[number] = frames.table.get(number, 0.0) + value
    elif kind == 12:
        control.diameters[number] = 2 * value
    elif number in control.diameters:
        control.diameters[number] += 2 * value


def refuse(control: Control, order: Order, name: str, does: str) -> None:
    """A form of G10 that is not simulated: everything behind it may lie elsewhere."""
    control.say("code-unsupported", order.of(Group.ONCE), about=name, does=f"a code that {does}")
    numbers = {"code": name, "line": control.line, "does": f"a code that {does}"}
    control.bent[name] = "XYZ", Reason("lost-code", name, numbers)
