"""Blocks to Motion: reads a program line by line and has each line carried out.

The law: the values of a line are computed before anything of it is done, and parameters that it sets count
from the next line on [NIST IR 6556, 3.3.3]. A line that could not be read leaves every axis unknown.
"""

from __future__ import annotations

from collections.abc import Container, Iterator, Sequence
from dataclasses import replace
from functools import cached_property
from typing import TYPE_CHECKING

from .again import Again
from .ahead import Ahead
from .blocks import Told, read_blocks
from .calls import after, macro_line, takes_macro
from .carrying import Carrier
from .closing import closing
from .control import Control, Reason
from .corners import refuse
from .dialect import Dialect
from .finding import Finding
from .flow import Course
from .gouges import say_gouges
from .orders import Order, order_of
from .plain import plain
from .reading import Reading, Setting
from .sections import named
from .source import Source
from .stretch import Stretch
from .switches import act
from .values import Values
from .written import Block, Number

if TYPE_CHECKING:
    from .quick import Quick


LENGTH_CODES = (43.0, 43.1, 43.2, 44.0)
QUICK_FROM = 100_000  # bytes: a shorter program is read sooner than the compiled code is loaded


def read_program(source: Source, dialect: Dialect, setting: Setting = Setting(), *,  # noqa: B008
                 quick: bool | None = None, told: Told = None) -> Reading:
    """The program's moves (mm, board frame) and all that is wrong with its language; of a file with several
    programs, those of the one that the setting names, else of the first.

    `quick` says whether plain lines take the quick lane (None: in long programs); what comes of it is the
    same. `told` hears from time to time how many lines are read (and of how many), then how many moves there
    are so far (of 0). Raises Unreadable where the source
    is no text; anything else that is wrong is a finding.
    """
    return Paper(source, dialect, quick, told).run(setting)


def read_every(source: Source, dialect: Dialect, setting: Setting = Setting(), *,  # noqa: B008
               quick: bool | None = None, told: Told = None) -> Iterator[Reading]:
    """Every program of a file, each from the same setting, as `read_program` has it."""
    paper = Paper(source, dialect, quick, told)
    first = paper.run(setting, alone=False)
    yield first
    for line in paper.begins:
        if line != first.begins:
            yield paper.run(replace(setting, at=line), alone=False)


def read_until(source: Source, dialect: Dialect, setting: Setting,
               expected: Container[tuple[str, int]]) -> tuple[Reading, tuple[int, int] | None]:
    """As `read_program`, but no farther than the first stop that is not among those `expected` (kind, line);
    with the moves and events that came before it, None where there is none."""
    paper = Paper(source, dialect)
    return paper.run(setting, expected=expected), paper.refused


class Paper:
    """A program's text, read once, to be run as often as there are programs in it."""

    def __init__(self, source: Source, dialect: Dialect, quick: bool | None = None,
                 told: Told = None) -> None:
        self.source, self.dialect, self.told = source, dialect, told
        self.blocks, self.findings = _read(source, dialect,
                                           len(source.data) >= QUICK_FROM if quick is None else quick, told)
        self.lengths = any(_holds(block, "G", LENGTH_CODES) for block in self.blocks)
        self.optional = any(block.skippable for block in self.blocks)
        self.begins: tuple[int, ...] = ()
        self.refused: tuple[int, int] | None = None

    def run(self, setting: Setting, alone: bool = True,
            expected: Container[tuple[str, int]] | None = None) -> Reading:
        """One program. `alone`: nobody looks at the others of the file; `expected`: as `read_until`."""
        run = Run(Control(self.dialect, setting, self.lengths), self.blocks)
        run.control.expected = expected
        run.control.builder.told = self.told
        run.course.walk()
        run.close(self.source, alone)
        self.refused = run.control.refused
        self.begins = tuple(part.line for part in run.course.programs)
        return run.reading(self.source, self.findings, self.optional)


def _read(source: Source, dialect: Dialect, quick: bool, told: Told) -> tuple[list[Block], list[Finding]]:
    if not quick:
        return read_blocks(source, dialect, told)
    from .scan import read_stretches  # short programs do without the compiler

    return read_stretches(source, dialect, told)


def _holds(block: Block, letter: str, numbers: Container[float]) -> bool:
    return any(w.letter == letter and isinstance(w.value, Number) and w.value.value in numbers
               for w in block.words)


class Run:
    """One run through a program."""

    def __init__(self, control: Control, blocks: Sequence[Block]) -> None:
        self.control = control
        self.values = Values(control)
        self.carrier = Carrier(control)
        self.course = Course(blocks, control, self.values, self.block, self.skips)
        self.again = Again(control, self.values, self.course.ready, self.carrier.watch)
        self.acts = sorted(control.setting.at_line.items())
        if not self.acts:
            self.course.ahead = Ahead(self.course, self.again.made)
        takes = control.dialect.takes
        self.short = takes("G0") and takes("G1") and not self.values.increments

    def block(self, block: Block) -> None:
        """One line, or a Stretch of them."""
        if isinstance(block, Stretch):
            self.quick.run(block)
            return
        if self.acts:
            self.due(block.line)
        if self.course.again and self.course.modal is None and self.again.line(block):
            return
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
        if takes_macro(self.course, order):
            macro_line(self.course, order)
            self.short = self.short and self.course.modal is None
            return
        before = len(self.control.builder)
        self.carrier.carry(order)
        after(self.course, order, moved=len(self.control.builder) > before)

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

    def close(self, source: Source, alone: bool) -> None:
        """What is said of the program as a whole."""
        control, behind = self.control, self.course.never_run()
        if alone and control.setting.program is None:
            self._say_others()
        self.values.closing()
        if behind and not self.course.stopped:
            control.line = behind
            control.say("text-after-end", about="end")
        if control.corner is not None:
            refuse(control, control.corner, "no move follows it")
        closing(control, source, self.course.own(), self.course.follows())
        say_gouges(control)

    def _say_others(self) -> None:
        """The other programs of the file, which were not run."""
        control, others, this = self.control, self.course.others(), self.course.part
        if others and this is not None:
            control.line = others[0].line
            number = next((part.number for part in others if part.number is not None), None)
            how = ("Put each program into a file of its own" if number is None else
                   f"Say which one is meant: number = {number} in the stage, or --number {number}")
            control.say("programs-more", about="programs", count=len(others), s="s" * (len(others) > 1),
                        named=named(others), this=this.name, how=how)

    def reading(self, source: Source, found: Sequence[Finding], optional: bool) -> Reading:
        """What came of it; `found` is what the reading of lines had to say."""
        control, course = self.control, self.course
        x, y, z = control.tip
        found, others = course.concerning(found), course.others()
        return Reading(
            source=source, dialect=control.dialect.name, motion=control.builder.motion(),
            findings=tuple(sorted([*found, *control.findings], key=lambda f: (f.line, f.column))),
            unchecked=tuple(control.unchecked()), uses_block_delete=optional,
            units_said=control.units_said, parameters=self.values.parameters.values(), final=control.state,
            position=(x, y, z), ended=control.ended, doubts=tuple(control.doubts),
            program=course.part.name if course.part is not None and len(course.programs) > 1 else "",
            begins=0 if course.part is None else course.part.line, others=tuple(p.name for p in others))
