"""Every way that a line may lead, where of its parameters only ranges are known.

The law: as Course (flow.py) goes, and never less. A line that may end the program, or that is not understood
here, raises Over.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from math import inf, isfinite, nan
from typing import TYPE_CHECKING

from .dependence import ARGUMENTS, MACROS, Var, target_of
from .narrowing import decided
from .outline import key_of
from .parameters import is_live
from .ranges import EVERY, Range, Ranges, hull, one, range_of
from .written import Assignment, Block, Flow, Name, Number, Value

if TYPE_CHECKING:
    from .flow import Course

CALL_WORDS = frozenset("MPLQ")
DEEPEST = 100  # calls in calls: a course that goes deeper is stopped
ONCE = one(1.0)


class Over(Exception):
    """An end may be reached, or nobody can tell."""


@dataclass(frozen=True, slots=True)
class Frame:
    """An open call: where it began, where it goes back to, whether it may run once more, whether it hides
    the caller's parameters."""

    begin: int
    back: int
    more: bool
    hides: bool


@dataclass(frozen=True, slots=True)
class Standing:
    """Before the line at a position, within calls; the parameters, and those that calls hide."""

    at: int
    frames: tuple[Frame, ...]
    ranges: Ranges
    hidden: tuple[Ranges, ...]

    def to(self, at: int, ranges: Ranges | None = None) -> Standing:
        return replace(self, at=at, ranges=self.ranges if ranges is None else ranges)

    @property
    def entered(self) -> int:
        return self.frames[-1].begin if self.frames else -1


class Ways:
    """The ways through one program. `limits`: no parameter comes farther from zero."""

    def __init__(self, course: Course, limits: Mapping[Var, float]) -> None:
        self.course, self.blocks, self.drawn = course, course.blocks, course.drawn
        self.dialect, self.limits = course.control.dialect, limits
        self.kind = course.control.rule("flow.kind")

    def on(self, stand: Standing) -> Iterable[Standing]:
        """Where the line may lead. Raises Over."""
        at, course = stand.at, self.course
        if not 0 <= at < len(self.blocks):
            raise Over
        block = self.blocks[at]
        elsewhere = self._elsewhere(block, stand) if at in course.marked else None
        if elsewhere is not None:
            return elsewhere
        if block.skippable and course.control.setting.block_delete:
            return [stand.to(at + 1)]
        if block.flow is not None:
            return self._step(block, block.flow, stand)
        return [stand.to(at + 1)] if block.bad else self._line(block, stand)

    def _elsewhere(self, block: Block, stand: Standing) -> Iterable[Standing] | None:
        """A label alone calls; another program's beginning ends this one."""
        if self.course.labels and block.program is not None and block.program not in self.drawn.subs:
            return [stand.to(stand.at + 1)]
        if self.drawn.calls_by_label(block):
            return self._call(self.drawn.subs[block.program or 0], ONCE, None, stand)
        if stand.at in self.drawn.begins and stand.at != stand.entered:
            return self._back(stand)
        return None

    # --- lines of words and settings ---

    def _line(self, block: Block, stand: Standing) -> Iterable[Standing]:
        stand = stand.to(stand.at, self._set(block.assignments, stand.ranges)) if block.assignments else stand
        codes = {(word.letter, _written(word.value)) for word in block.words if word.letter in "GM"}
        if codes & {("M", 2.0), ("M", 30.0)}:
            raise Over
        if any(("G", float(code)) in codes for code in MACROS):
            return self._macro(block, stand)
        for code in (97, 98, 99):
            if ("M", float(code)) in codes:
                return self._leads(code, block, stand)
        on = [stand.to(stand.at + 1)]
        if block.words and not stand.frames and self.course.modal is not None:  # it is called where it moves
            words = self.course.modal
            given: Ranges = {ARGUMENTS[letter]: one(held) for letter, held in words.items()
                             if letter in ARGUMENTS}
            on += self._call(self._program(words.get("P", nan)), one(words.get("L", 1.0)), given, stand)
        return on

    def _leads(self, code: int, block: Block, stand: Standing) -> Iterable[Standing]:
        words = self._words(block)
        if self.kind == "none" or not CALL_WORDS.issuperset(words):
            raise Over
        if code == 99:
            return self._back(stand, words.get("P"), stand.at + 1)
        by_program = code == 98 and "P" in words
        number = _written(words.get("Q" if code == 98 and not by_program else "P"))
        if not 0 <= number < 10_000:
            raise Over
        lines = self.drawn.numbers.get(round(number), (None,))
        begin = self._program(number, self.drawn.subs.get(round(number))) if by_program else lines[0]
        return self._call(begin, self._times(words, stand), None, stand)

    def _macro(self, block: Block, stand: Standing) -> Iterable[Standing]:
        words = self._words(block)
        if _written(words.get("G")) != 65.0 or self.kind not in ("macros", "both"):
            raise Over
        given: Ranges = {ARGUMENTS[letter]: range_of(value, stand.ranges, self.dialect)
                 for letter, value in words.items() if letter in ARGUMENTS}
        return self._call(self._program(_written(words.get("P"))), self._times(words, stand), given, stand)

    def _words(self, block: Block) -> dict[str, Value]:
        words = {word.letter: word.value for word in block.words}
        if len(words) < len(block.words):
            raise Over
        return words

    def _times(self, words: Mapping[str, Value], stand: Standing) -> Range:
        return range_of(words["L"], stand.ranges, self.dialect) if "L" in words else ONCE

    def _program(self, number: float, else_: int | None = None) -> int | None:
        return self.drawn.programs.get(round(number), else_) if isfinite(number) else None

    # --- steps of flow ---

    def _step(self, block: Block, flow: Flow, stand: Standing) -> Iterable[Standing]:
        at, on = stand.at, [stand.to(stand.at + 1)]
        match flow.step:
            case "THEN":
                holds, fails = self._decided(flow, stand)
                return [*([stand.to(at + 1, fails)] if fails is not None else ()),
                        *(self._line(block, stand.to(at, holds)) if holds is not None else ())]
            case "GOTO":
                return self._goto(flow, stand)
            case "CALL":
                return self._labelled_call(flow, stand)
            case "RETURN":
                return self._return(flow, stand)
        if not self.drawn.matched(at):
            return on
        partner = self.drawn.partner.get(at, at)
        match flow.step:
            case "IF":
                return self._if(flow, stand)
            case "WHILE":
                inside, outside = (partner + 1, at + 1) if partner < at else (at + 1, partner + 1)
                return [stand.to(where, held) for where, held in
                        zip((inside, outside), self._decided(flow, stand), strict=True) if held is not None]
            case "ELSEIF" | "ELSE":
                return [stand.to(partner + 1)]
            case "ENDWHILE" | "END":
                return [stand.to(partner)]
            case "REPEAT":
                count = range_of(flow.values[0], stand.ranges, self.dialect)
                past = [] if count.sure and count.low > 0.5 else [stand.to(partner + 1)]
                return [*(on if count.high >= 0.5 else ()), *past]
            case "ENDREPEAT":
                return [stand.to(partner + 1), *on]
            case "BREAK":
                return [stand.to(self.drawn.partner[self.drawn.loop[at]] + 1)]
            case "CONTINUE":
                return [stand.to(self.drawn.partner[self.drawn.loop[at]])]
            case "SUB":
                return on if at == stand.entered else [stand.to(partner + 1)]
            case "ENDSUB":
                return self._return(flow, stand)
        return on

    def _if(self, flow: Flow, stand: Standing) -> Iterator[Standing]:
        at, left = stand.at, stand.ranges
        while True:
            holds, fails = self._decided(flow, stand.to(at, left))
            if holds is not None:
                yield stand.to(at + 1, holds)
            if fails is None:
                return
            at, left = self.drawn.branch[at], fails
            step = self.blocks[at].flow
            if step is None or step.step != "ELSEIF":
                yield stand.to(at + 1, left)
                return
            flow = step

    def _goto(self, flow: Flow, stand: Standing) -> Iterator[Standing]:
        holds, fails = self._decided(flow, stand) if flow.values else (stand.ranges, None)
        if fails is not None:
            yield stand.to(stand.at + 1, fails)
        if holds is not None:
            for position in self._targets(flow.target, stand.at + 1, holds):
                yield stand.to(position, holds)

    def _targets(self, target: Value | None, from_: int, ranges: Ranges) -> Iterator[int]:
        """Where GOTO may lead: on to the next line too, where its number may be nowhere."""
        number = EVERY if target is None else range_of(target, ranges, self.dialect)
        for label, places in self.drawn.numbers.items():
            if number.low - 0.5 <= label <= number.high + 0.5:
                yield next((p for p in places if p >= from_), places[0])
        if not number.single or round(number.low) not in self.drawn.numbers:
            yield from_

    def _decided(self, flow: Flow, stand: Standing) -> tuple[Ranges | None, Ranges | None]:
        return decided(flow.values[0], stand.ranges, self.dialect)

    # --- calls ---

    def _labelled_call(self, flow: Flow, stand: Standing) -> Iterable[Standing]:
        label = key_of(flow.label)
        if label is None:
            raise Over
        given: Ranges = dict.fromkeys(range(1, 31), one(0.0))
        for n, value in enumerate(flow.values, 1):
            known = range_of(value, stand.ranges, self.dialect)
            given[n] = known if known.sure else hull(known, one(0.0)).doubtful()
        return self._call(self.drawn.subs.get(label), ONCE, given, stand)

    def _call(self, begin: int | None, times: Range, given: Ranges | None, stand: Standing) -> list[Standing]:
        """Into the lines from `begin`, and past them where they may not be run."""
        past = [stand.to(stand.at + 1)]
        if begin is None or times.high < 0.5:
            return past
        if times.sure and times.low > 0.5:
            past = []
        if len(stand.frames) >= DEEPEST:
            return past
        frame = Frame(begin, stand.at + 1, not times.sure or times.high > 1.5, given is not None)
        inner = replace(stand, at=begin, frames=(*stand.frames, frame))
        if given is not None:
            inner = replace(inner, ranges={**_common(stand.ranges), **given},
                            hidden=(*stand.hidden, {v: r for v, r in stand.ranges.items() if _is_local(v)}))
        return [*past, inner]

    def _return(self, flow: Flow, stand: Standing) -> Iterable[Standing]:
        if flow.values:
            stand = stand.to(stand.at, {**stand.ranges, "_value": EVERY})
        return self._back(stand) if stand.frames else [stand.to(stand.at + 1)]

    def _back(self, stand: Standing, goto: Value | None = None, after: int = 0) -> Iterator[Standing]:
        """The end of a subprogram: once more, or back; with M99 P to another line."""
        if not stand.frames:
            if goto is None:
                raise Over
            yield from (stand.to(position) for position in self._targets(goto, after, stand.ranges))
            return
        *outer, frame = stand.frames
        if frame.more:
            yield stand.to(frame.begin)
        targets = [frame.back] if goto is None else self._targets(goto, frame.back, stand.ranges)
        ranges, hidden = stand.ranges, stand.hidden
        if frame.hides:
            ranges, hidden = {**_common(ranges), **hidden[-1]}, hidden[:-1]
        yield from (Standing(position, tuple(outer), ranges, hidden) for position in targets)

    # --- settings ---

    def _set(self, assignments: Iterable[Assignment], before: Ranges) -> Ranges:
        after = dict(before)
        for each in assignments:
            read = after if self.course.values.at_once else before
            value = range_of(each.value, read, self.dialect)
            if isinstance(each.index, Name):
                after[each.index.text] = self._held(each.index.text, after, value)
                continue
            number = target_of(each.index)
            if number is None:
                index = range_of(each.index, read, self.dialect)
                for var in [v for v in after if isinstance(v, int) and index.low - 1 <= v <= index.high + 1]:
                    after[var] = hull(after[var], self._held(var, after, value))
            elif not is_live(number):
                after[number] = self._held(number, after, value)
        return after

    def _held(self, var: Var, ranges: Ranges, value: Range) -> Range:
        """What a parameter holds once that is set; it may stay as it was where there is no value."""
        most = self.limits.get(var, inf)
        if value.largest > most:
            low, high = max(value.low, -most), min(value.high, most)
            value = Range(min(low, high), max(low, high), value.whole, value.sure)
        return value if value.sure else hull(value, ranges.get(var, EVERY)).doubtful()


def _written(value: Value | None) -> float:
    """A number that is written out, NaN for none. Raises Over for a calculated one."""
    if value is None:
        return nan
    if not isinstance(value, Number):
        raise Over
    return value.value


def _is_local(var: Var) -> bool:
    return 1 <= var <= 33 if isinstance(var, int) else not var.startswith("_")


def _common(ranges: Ranges) -> Ranges:
    return {var: held for var, held in ranges.items() if not _is_local(var)}
