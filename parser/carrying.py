"""An order carried out: its codes in the order of execution, then its motion, then stops.

The law: NIST IR 6556, 3.8, Table 8. What is known and not simulated is said, and what it hides of the path
becomes unknown; an order that cannot be carried out leaves the axes that it might have moved unknown.
"""

from __future__ import annotations

from . import corners
from .choosing import extra, motion_of, takers
from .closing import Watch
from .control import Control, Reason
from .drilling import behaviour
from .handlers import HANDLERS, MOTION, NO_CODE, ONCE, units
from .modes import BY_NAME, Code, Effect, Group
from .motions import fail
from .nurbs import left_open
from .orders import Order, check_words
from .switches import stop

FURTHER = frozenset("ABCUVW")
UNDER_COMPENSATION = frozenset({Group.UNITS, Group.PLANE, Group.SYSTEM, Group.ONCE, Group.MACHINE})
LETTERS = ("F", "S", "T")


class Carrier:
    """Carries out orders on one control."""

    def __init__(self, control: Control) -> None:
        self.control = control
        self.watch = Watch()
        self.late = frozenset(control.rule("order.m_after_motion"))
        others = control.dialect.alternatives.get("order.m_after_motion", ())
        self.either = self.late.union(*others)
        self.harmless = frozenset(control.rule("codes.harmless"))
        self.flows = control.rule("flow.kind") != "none"

    def carry(self, order: Order) -> None:
        control = self.control
        if not (order.codes or order.values):
            return
        self._dwell_letters(order)
        motion = motion_of(control, order)
        if control.net is not None and motion not in ("", "G5.2", "G5.3"):
            left_open(control, motion)
        check_words(order, control, takers(order, motion), extra(control, order, motion))
        self._while_compensated(order, motion)
        late = self._switch(order, bool(motion))
        self._chosen(order, motion)
        self._further(order)
        if order.lost:
            reason = order.reason or Reason("lost-bad", "bad line", {"line": control.line})
            fail(control, order, reason, range(3) if order.blind else ())
        else:
            self._once(order)
            self._move(order, motion)
        for code in late:
            self._do(order, code)
        if Group.STOP in order.codes:
            stop(control, order, order.codes[Group.STOP][0])

    def _while_compensated(self, order: Order, motion: str) -> None:
        """What NIST IR 6556, B.5 forbids while G41 or G42 holds."""
        if self.control.comp is None:
            return
        codes = [code for code, _ in order.codes.values() if code.group in UNDER_COMPENSATION
                 and code.name != "G17"]
        if motion and (BY_NAME[motion].drills or motion.startswith("G38")):
            codes.append(BY_NAME[motion])
        for code in codes:
            self.control.say("compensation-while", order.of(code.group), about=code.name, code=code.name)

    def _dwell_letters(self, order: Order) -> None:
        """G4 X2 waits on some controls: then X is no axis word."""
        if Group.DWELL in order.codes and Group.MOTION not in order.codes:
            for letter in self.control.rule("dwell.words"):
                if letter in order.axes:
                    order.axes.remove(letter)

    def _switch(self, order: Order, moving: bool) -> list[Code]:
        """Everything but motion, in its order; what comes back acts after the motion in this dialect."""
        late = []
        there = [t for t in (*order.codes, *(c for c in LETTERS if c in order.values)) if t in HANDLERS]
        for trigger in sorted(there, key=lambda t: HANDLERS[t][0]):
            if not isinstance(trigger, Group):
                HANDLERS[trigger][1](self.control, order, NO_CODE)
                continue
            code = order.codes[trigger][0]
            if moving and code.name in self.either:
                self.control.doubt("order.m_after_motion", order.of(trigger), code.name)
            if code.name in self.late:
                late.append(code)
            else:
                self._do(order, code)
        return late

    def _do(self, order: Order, code: Code) -> None:
        control = self.control
        if code.name in control.rule("units.codes") and not {"P", "Q"} & order.values.keys():
            units(control, order, code)
        elif code.served:
            HANDLERS[code.group][1](control, order, code)
        elif not (code.name in self.harmless or (code.group is Group.CALL and self.flows)):
            self._unserved(order, code)

    def _unserved(self, order: Order, code: Code) -> None:
        """A code that is known and not simulated: said, and what it hides of the path becomes unknown."""
        control = self.control
        name = "code-read-only" if code.effect is Effect.NOTHING else "code-unsupported"
        if control.dialect.takes(code.name):
            control.say(name, order.of(code.group), about=code.name, does=code.why)
        if code.effect is Effect.ALL:
            control.bent[code.end] = code.bends, self._unknown(code)
        elif code.effect is Effect.LINE:
            order.lost, order.blind, order.reason = True, True, self._unknown(code)

    def _unknown(self, code: Code) -> Reason:
        numbers = {"code": code.name, "line": self.control.line, "does": code.why}
        return Reason("lost-code", code.name, numbers)

    def _chosen(self, order: Order, motion: str) -> None:
        """Notes what the program has chosen, and what it relies on without having chosen it."""
        control = self.control
        for group, (code, _) in order.codes.items():
            self.watch.said(group)
            control.modes.said.add(code.name)
        once = order.code(Group.ONCE)
        home = once is not None and once.name in ("G28", "G30")
        if order.axes and (motion or home):
            machine = Group.MACHINE in order.codes or (home and not control.modes.absolute)
            self.watch.moves(control, motion or "G0", offset=not machine)

    def _further(self, order: Order) -> None:
        """Turning axes and second linear axes are not simulated: at their zero nothing is hidden."""
        control = self.control
        for letter in order.axes:
            if letter in FURTHER:
                control.say("axis-further", order.span(letter), about=letter, letter=letter)
                if order.values[letter] == 0.0 and control.modes.absolute:
                    control.bent.pop(letter, None)
                else:
                    numbers = {"letter": letter, "line": control.line}
                    control.bent[letter] = "XYZ", Reason("lost-axis", letter, numbers)

    def _once(self, order: Order) -> None:
        code = order.code(Group.ONCE)
        if code is None:
            return
        if code.served:
            ONCE[code.name](self.control, order, code.name)
        else:
            self._unserved(order, code)
            fail(self.control, order, self._unknown(code))

    def _move(self, order: Order, motion: str) -> None:
        if not motion:
            return
        code, control = BY_NAME[motion], self.control
        if control.stale:
            control.stale = False
            control.say("length-not-renewed", about="H", cutter=control.frames.cutter,
                        number=control.in_force)
        corner, control.corner, before = control.corner, None, len(control.builder)
        if code.served or (code.drills and behaviour(self.control, motion) is not None):
            MOTION[motion](self.control, order, motion)
        else:
            self._unserved(order, code)
            fail(self.control, order, self._unknown(code))
        if corner is not None:
            corners.make(control, corner, before)
        control.corner = corners.asked(control, order, motion)
