"""Blocks to Motion: reads a program line by line and has each line carried out.

The law: the values of a line are computed before anything of it is done, and parameters that it sets count
from the next line on [NIST IR 6556, 3.3.3]. A line that could not be read leaves every axis unknown.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from typing import TYPE_CHECKING

from .blocks import read_blocks
from .carrying import Carrier
from .closing import closing
from .control import Control, Reason
from .dialect import Dialect
from .finding import Finding
from .flow import Course
from .orders import Order, order_of
from .plain import plain
from .reading import Reading, Setting
from .source import Source
from .stretch import Stretch
from .switches import act
from .values import Values
from .written import Block, Number

if TYPE_CHECKING:
    from .quick import Quick


QUICK_FROM = 100_000  # bytes: a shorter program is read sooner than the compiled code is loaded


def read_program(source: Source, dialect: Dialect, setting: Setting = Setting(), *,  # noqa: B008
                 quick: bool | None = None) -> Reading:
    """The program's moves (mm, board frame) and all that is wrong with its language.

    `quick` says whether plain lines take the quick lane (None: in long programs); what comes of it is the
    same. Raises Unreadable where the source is no text; anything else that is wrong is a finding.
    """
    blocks, findings = _read(source, dialect, len(source.data) >= QUICK_FROM if quick is None else quick)
    run = Run(Control(dialect, setting, any(_holds(block, "G", 43) for block in blocks)), blocks)
    run.course.walk()
    run.close(source)
    return run.reading(source, findings, any(block.skippable for block in blocks))


def _read(source: Source, dialect: Dialect, quick: bool) -> tuple[list[Block], list[Finding]]:
    if not quick:
        return read_blocks(source, dialect)
    from .scan import read_stretches  # short programs do without the compiler

    return read_stretches(source, dialect)


def _holds(block: Block, letter: str, number: float) -> bool:
    return any(w.letter == letter and isinstance(w.value, Number) and w.value.value == number
               for w in block.words)


class Run:
    """One run through a program."""

    def __init__(self, control: Control, blocks: Sequence[Block]) -> None:
        self.control = control
        self.values = Values(control)
        self.carrier = Carrier(control)
        self.course = Course(blocks, control, self.values, self.block, self.skips)
        self.acts = sorted(control.setting.at_line.items())
        takes = control.dialect.takes
        self.short = takes("G0") and takes("G1") and not self.values.increments

    def block(self, block: Block) -> None:
        """One line, or a Stretch of them."""
        if isinstance(block, Stretch):
            self.quick.run(block)
            return
        self.due(block.line)
        if block.skippable and self.skips():
            return
        if block.bad:
            self._bad()
        elif not (self.short and self.carrier.watch.quiet and plain(self.control, block)):
            self._full(block)

    @cached_property
    def quick(self) -> Quick:
        from .quick import Quick  # the scanner has loaded the compiled code

        return Quick(self)

    def due(self, line: int) -> None:
        """What the operator does before a line."""
        while self.acts and self.acts[0][0] <= line:
            act(self.control, self.acts.pop(0)[1], "at_line")

    def _full(self, block: Block) -> None:
        """Values first, then the line's codes, then its settings (or these at once, by the dialect)."""
        values = self.values
        if not block.assignments:
            self._carry(order_of(block, self.control, values.of))
            return
        values.parameters.read.clear()
        done, settings = [], []
        for assignment in block.assignments:
            pair = values.setting(assignment)
            if values.at_once:
                done.append(values.set(assignment, pair))
            else:
                settings.append((assignment, pair))
        self._carry(order_of(block, self.control, values.of))
        done += [values.set(*each) for each in settings]
        values.set_twice(block, [index for index in done if index])

    def _carry(self, order: Order) -> None:
        if self.course.takes_macro(order):
            self.course.macro_line(order)
            self.short = self.short and self.course.modal is None
            return
        before = len(self.control.builder)
        self.carrier.carry(order)
        self.course.after(order, moved=len(self.control.builder) > before)

    def skips(self) -> bool:
        """Whether the operator's switch leaves out the line at hand, which has a slash."""
        on = self.control.setting.block_delete
        self.control.say("block-delete", about="/",
                         switch="leaves it out (it is on)" if on else "runs it (it is off)")
        return on

    def _bad(self) -> None:
        control = self.control
        reason = Reason("lost-unread", "unread line", {"line": control.line})
        control.unplaced(reason)
        control.lose(range(3), reason)

    def close(self, source: Source) -> None:
        """What is said of the program as a whole."""
        control, behind = self.control, self.course.never_run()
        if len(self.values.points) > 1:
            control.say("number-mixed-points", about="numbers")
        if behind and not self.course.stopped:
            control.line = behind
            control.say("text-after-end", about="end")
        closing(control, source, self.course.blocks)

    def reading(self, source: Source, found: Sequence[Finding], optional: bool) -> Reading:
        """What came of it; `found` is what the reading of lines had to say."""
        control = self.control
        x, y, z = control.tip
        return Reading(
            source=source, dialect=control.dialect.name, motion=control.builder.motion(),
            findings=tuple(sorted([*found, *control.findings], key=lambda f: (f.line, f.column))),
            unchecked=tuple(control.unchecked()), uses_block_delete=optional,
            units_said=control.units_said, parameters=self.values.parameters.values(), final=control.state,
            position=(x, y, z), ended=control.ended, doubts=tuple(control.doubts))
