"""A line's words and settings as numbers, and what is doubtful about them.

The law: a value is NaN where only the machine knows it and where it cannot be calculated (that is said
here); it is never zero for want of a better one.
"""

from __future__ import annotations

from math import isnan, nan

from .control import Control, Span
from .dependence import reads
from .expressions import FIRST, BadValue, Empty, doubts, evaluate, touched
from .finding import Severity
from .orders import AXES, span
from .parameters import Parameters
from .written import Assignment, Block, Name, Number, Value, Word

FARTHEST = 1e7  # mm or inch: no machine is larger
UNSET = frozenset({"expr.undefined"})  # decides nothing where every parameter was set


class Values:
    """Calculates a line's values from the parameters as they are."""

    def __init__(self, control: Control) -> None:
        self.control = control
        self.parameters = Parameters(control)
        self.increments = control.rule("number.no_point") == "increment"
        self.counted = frozenset(control.rule("number.increment_letters"))
        self.pointed = False  # whether a number with a point was met
        self.bare: dict[tuple[int, Span], dict] = {}  # those without, by line and place, and how they count
        self.at_once = control.rule("expr.assign") == "at_once"
        self.failed: set[Value] = set()  # what could not be calculated

    def of(self, word: Word) -> float | None:
        """A word's number; NaN where it is bad (said here) or known to the machine only, None for a word that
        its empty parameter drops."""
        written, letter = word.value, word.letter
        if type(written) is Number:
            number = written.value
            if self.increments and letter[0] in self.counted:
                number = self._counted(word, number, written.pointed)
        else:
            number = self.calculated(written, letter, word.column, word.end)
        if letter in AXES and number is not None and abs(number) > FARTHEST:
            self.control.say("value-too-large", span(word), about=letter, letter=letter, number=f"{number:g}")
            return nan
        return number

    def _counted(self, word: Word, number: float, pointed: bool) -> float:
        """A literal where numbers without a point count in the control's smallest step."""
        control = self.control
        if not number:
            return number
        if pointed:
            self.pointed = True
            return number
        step = control.rule("number.increment")["in" if control.frames.inch else "mm"]
        self.bare[control.line, span(word)] = {
            "letter": word.letter, "number": f"{number:g}", "taken": number * step * control.frames.scale}
        return number * step

    def closing(self) -> None:
        """Once the last line is read: numbers without a point, each, or once where others have one."""
        for (line, where), said in self.bare.items():
            self.control.line = line
            if self.pointed:
                self.control.say("number-mixed-points", where, about="numbers", **said)
                return
            self.control.say("number-no-point", where, about="no point", **said)

    def calculated(self, written: Value, letter: str, column: int, end: int) -> float | None:
        """What an expression comes to, and what is doubtful about it."""
        control, parameters, where = self.control, self.parameters, Span(column, end)
        parameters.missed.clear()
        try:
            number = evaluate(written, parameters, control.dialect)
        except Empty:
            return None
        except BadValue as bad:
            control.say("value-uncalculable", where, about=letter, said=bad.what, do=bad.fix,
                        severity=control.dialect.conditions.get(bad.condition) or Severity.STOP)
            self.failed.add(written)
            return nan
        if isnan(number) and parameters.broken.isdisjoint(reads(written)):  # else it is said where it broke
            control.say("parameter-live", where, about=letter, letter=letter)
        for index in sorted(parameters.missed):
            control.say("parameter-undefined", where, about=f"#{index}", number=index)
        if control.dialect.alternatives and (parameters.missed or touched(written) - UNSET):
            for key in doubts(written, parameters, control.dialect):
                control.doubt(key, where, letter)
        return number

    def known(self, written: Value) -> float:
        """What a value comes to, NaN where it cannot be calculated; nothing is said of it."""
        try:
            return evaluate(written, self.parameters, self.control.dialect)
        except BadValue:
            return nan

    def setting(self, assignment: Assignment) -> tuple[int | str, float] | None:
        column, end = assignment.column, assignment.end
        label = label_of(assignment.index)
        if isinstance(assignment.index, Name):
            named = self.calculated(assignment.value, label, column, end)
            return None if named is None else (assignment.index.text, named)
        index = self.calculated(assignment.index, "#", column, end)
        value = self.calculated(assignment.value, label, column, end)
        if index is None or value is None or isnan(index):
            return None
        last = self.control.rule("expr.last_parameter")
        if abs(index - round(index)) > 0.0001 or not FIRST <= round(index) <= last:
            self.control.say("parameter-index", Span(column, end), about="#", number=f"{index:g}",
                             least=FIRST, most=last)
            return None
        return round(index), value

    def set(self, assignment: Assignment, pair: tuple[int | str, float] | None) -> int:
        """Set a parameter; which one, 0 for none or one with a name."""
        if pair is None:
            return 0
        index, value = pair
        self._note_broken(index, value, assignment)
        if isinstance(index, str):
            self.parameters.names[index] = value
            return 0
        if self.parameters.special(index):
            where = Span(assignment.column, assignment.end)
            self.control.say("parameter-special", where, about=f"#{index}", number=index)
        self.parameters.set(index, value)
        return index

    def _note_broken(self, index: int | str, value: float, assignment: Assignment) -> None:
        """A value that could not be calculated is no value that the machine knows."""
        broken = self.parameters.broken
        written = assignment.value
        if isnan(value) and (written in self.failed or not broken.isdisjoint(reads(written))):
            broken.add(index)
        elif broken:
            broken.discard(index)

    def set_twice(self, block: Block, done: list[int]) -> None:
        """A parameter set twice on a line, or set and used: when the setting counts decides."""
        for index in sorted(set(done)):
            if done.count(index) > 1 or (index in self.parameters.read and (len(done) > 1 or block.words)):
                self.control.say("parameter-twice", about=f"#{index}", number=index)
                self.control.doubt("expr.assign", Span(), f"#{index}")


def label_of(index: Value) -> str:
    """What a setting sets, as it is written."""
    if isinstance(index, Name):
        return f"#<{index.text}>"
    return f"#{index.value:g}" if isinstance(index, Number) else "a parameter"
