"""Whether a program can still come to an end: found by what its loops hang on, not by counting.

The law: a loop is endless when it comes back to the same place and nothing that it hangs on has changed, or
only so that it goes on drifting away from every condition. Why that is certain: let the lines that ran since
a place was last marked be the trace, and let D be what their choices of the next line read, and what the
values of D were calculated from on those lines (dependence.py; indirect parameters count as all). Every line
takes D to D by D alone, so from the same place with the same D, the same calls and counts, the same trace is
run again, and so for ever: moves, feeds and counters that no condition asks for do not matter.

Drift: some of D may have changed, each of these m only by m = m ± a fixed number, and asked for only in
comparisons with what has not changed. Adding keeps the order of numbers, also when it rounds. So if m has
grown since the mark, it never shrinks again at the same line of a later turn, and a comparison that it won on
the upper side is won for ever (falling: the mirror image). Steps are small, so that no sum overflows.

The mark is set anew after 1, 2, 4, 8 … jumps back (R. P. Brent, BIT 20 (1980), 176-184: a cycle is found
within a few times its length; from memory), so nested loops need no marks of their own.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import copysign, isfinite
from typing import TYPE_CHECKING, Any

from .dependence import ANY, CONTROL, Edge, Leaning, Var, bare, closed, leaning, reaches, reads
from .parameters import is_live
from .written import Chain, Number, Parameter, Value

if TYPE_CHECKING:
    from .flow import Course

COMPARED = frozenset({"EQ", "NE", "GT", "GE", "LT", "LE"})
LARGEST_STEP, FARTHEST = 1e9, 1e100
LOCALS = range(1, 34)  # hidden and given by calls
SILENT = frozenset({  # of the control: what it has said and made, and what never changes
    "dialect", "setting", "builder", "findings", "said", "unseen", "doubts", "arcs", "line", "state",
    "behind", "forbidden", "contours", "stored"})


@dataclass(frozen=True)
class Mark:
    """The program's state at a jump back to `to`."""

    to: int
    frame: tuple
    plain: dict[int, float]
    names: dict[str, float]
    control: str


class Endless:
    """Watches the jumps back of a Course. Since the mark: `lines` that ran, by position; on which `sides`
    comparisons came out (line, sign of left less right; 2: not both known); `jumps` back as (calls open, to)
    with the line to blame and the moves by then; `modal`: whether a macro was called at moves."""

    def __init__(self, course: Course) -> None:
        self.course = course
        self.lines: set[int] = set()
        self.sides: set[tuple[int, int]] = set()
        self.jumps: dict[tuple[int, int], tuple[int, int]] = {}
        self.modal = False
        self.mark: Mark | None = None
        self.count, self.power = 0, 1
        self.known: dict[int, Leaning] = {}
        self.hung: Hung | None = None  # on what these lines hang, as long as no new one comes

    def back(self, to: int, line: int) -> bool:
        """A jump back to a position, in the loop that is to blame at `line`; whether it goes on for ever."""
        course = self.course
        self.jumps[len(course.calls), to] = line, len(course.control.builder)
        self.modal = self.modal or course.modal is not None
        if self.mark is not None and self.mark.to == to and self._comes_back(self.mark):
            return True
        self.count += 1
        if self.count >= self.power:
            self._set_mark(to)
        return False

    def outermost(self, moves: int = 0) -> int:
        """The line to blame: of the jumps since the mark (those with `moves` moves before them, or more) that
        of the outermost loop; 0 for none."""
        jumps = [(at, line) for at, (line, made) in self.jumps.items() if made >= moves]
        return min(jumps)[1] if jumps else 0

    def _set_mark(self, to: int) -> None:
        parameters = self.course.values.parameters
        self.mark = Mark(to, self._frame(), dict(parameters.plain), dict(parameters.names), self._control())
        for each in (self.lines, self.sides, self.jumps):
            each.clear()
        self.modal, self.hung = self.course.modal is not None, None
        self.count, self.power = 0, 2 * self.power

    def _frame(self) -> tuple:
        """Calls, counts of turns, and the macro that is called at every move."""
        course = self.course
        calls = [(call.begin, call.back, call.left, call.hidden is None) for call in course.calls]
        return calls, dict(course.counts), course.began, repr(course.modal), \
            [(call.hidden, call.names) for call in course.calls]

    def _control(self) -> str:
        control = self.course.control
        return repr([(name, frozen(value)) for name, value in vars(control).items() if name not in SILENT])

    # --- held against the mark ---

    def _comes_back(self, mark: Mark) -> bool:
        frame = self._frame()
        if frame[:4] != mark.frame[:4]:
            return False
        if self.hung is None or self.hung.lines != len(self.lines):
            self.hung = self._hangs_on()
        hung, parameters = self.hung, self.course.values.parameters
        plain, names = parameters.plain, parameters.names
        moved = [v for v in hung.on if not same(_of(v, plain, names), _of(v, mark.plain, mark.names))]
        if moved and not self._drifts(moved, hung, mark):
            return False
        if not all(_same_hidden(a, b, hung.on) for a, b in zip(frame[4], mark.frame[4], strict=True)):
            return False
        if ANY in hung.on and not _same_all(plain, mark.plain):
            return False
        return CONTROL not in hung.on or not (self._acts() or self._control() != mark.control)

    def _acts(self) -> bool:
        setting = self.course.control.setting
        return bool(setting.at_line or setting.at_stop)

    def _hangs_on(self) -> Hung:
        course, leans = self.course, []
        for at in self.lines:
            if at not in self.known:
                self.known[at] = leaning(course.blocks, at, course.drawn)
            leans.append(self.known[at])
        edges = [edge for each in leans for edge in each.edges]
        modal = self.modal or any(each.modal for each in leans)
        wanted = {v for each in leans for v in each.decides}
        on = closed(wanted | ({CONTROL} if modal else set()), edges)
        return Hung(len(self.lines), on, leans, edges)

    # --- drift ---

    def _drifts(self, moved: list[Var], hung: Hung, mark: Mark) -> bool:
        """Whether those that have changed only go on moving away from all that asks for them."""
        if ANY in hung.on or CONTROL in moved or any(isinstance(v, int) and is_live(v) for v in moved):
            return False
        parameters = self.course.values.parameters
        ways: dict[Var, int] = {}
        for each in moved:
            before, now = _of(each, mark.plain, mark.names), _of(each, parameters.plain, parameters.names)
            if before is None or now is None or not abs(before) + abs(now) < FARTHEST:
                return False
            ways[each] = 1 if now > before else -1
        if hung.simple is None:
            hung.simple = {}
        for each in moved:
            if each not in hung.simple:
                hung.simple[each] = self._steps_only(each, hung)
        return all(hung.simple[each] for each in moved) and self._asked_apart(ways, hung)

    def _steps_only(self, var: Var, hung: Hung) -> bool:
        """Whether a parameter changes by fixed steps only, and nothing else that counts comes from it."""
        if (self.modal or any(each.calls for each in hung.leans)) and (isinstance(var, str) or var in LOCALS):
            return False
        for edge in hung.edges:
            if not reaches(edge, hung.on):
                continue
            if edge.target == var or edge.target == ANY:
                if not self._a_step(edge, var, hung):
                    return False
            elif var in edge.sources:
                return False
        return True

    def _a_step(self, edge: Edge, var: Var, hung: Hung) -> bool:
        value = None if edge.value is None else bare(edge.value)
        if not (isinstance(value, Chain) and value.operators in (("+",), ("-",)) and edge.target == var):
            return False
        left, right = map(bare, value.values)
        if value.operators == ("+",) and _is(right, var):
            left, right = right, left
        return _is(left, var) and self._fixed(right, hung)

    def _fixed(self, value: Value, hung: Hung) -> bool:
        """Whether a step is a number, or a parameter that no line of the trace sets, and of fair size."""
        if isinstance(value, Number):
            return abs(value.value) <= LARGEST_STEP
        read = reads(value)
        if not isinstance(value, Parameter) or len(read) != 1 or any(reaches(e, read) for e in hung.edges):
            return False
        parameters = self.course.values.parameters
        held = _of(next(iter(read)), parameters.plain, parameters.names)
        return held is not None and abs(held) <= LARGEST_STEP

    def _asked_apart(self, ways: dict[Var, int], hung: Hung) -> bool:
        """Whether every condition that asks for them is a comparison that comes out the same from now on."""
        for each in hung.leans:
            asking = each.decides & ways.keys()
            if asking and (each.conditions is None or not all(
                    self._stays(line, value, ways) for line, value in each.conditions)):
                return False
        return True

    def _stays(self, line: int, value: Value, ways: dict[Var, int]) -> bool:
        asked = reads(value) & ways.keys()
        if not asked:
            return True
        value = bare(value)
        if not (isinstance(value, Chain) and len(value.operators) == 1 and value.operators[0] in COMPARED):
            return False
        sides = {side for at, side in self.sides if at == line}
        away = [_away(bare(side), asked, ways) for side in value.values]
        if None in away or all(away):
            return False
        way = (away[0] or 0) - (away[1] or 0)
        still = 0 in sides and value.operators[0] in (("GE", "LT") if way > 0 else ("LE", "GT"))
        return sides <= ({way, 0} if still else {way})


@dataclass
class Hung:
    """On what a trace of so many lines hangs: parameters, its lines' leanings and edges; simple: which
    parameters change by fixed steps only."""

    lines: int
    on: frozenset[Var]
    leans: list[Leaning]
    edges: list[Edge]
    simple: dict[Var, bool] | None = None


def _away(side: Value, asked: frozenset[Var], ways: dict[Var, int]) -> int | None:
    """Which way one side of a comparison drifts: 0 not at all, None where that is not plain."""
    found = reads(side) & asked
    if not found:
        return 0
    var = next(iter(found))
    return ways[var] if _is(side, var) else None


def _is(value: Value, var: Var) -> bool:
    return isinstance(value, Parameter) and reads(value) == {var}


def _of(var: Var, plain: dict[int, float], names: dict[str, float]) -> float | None:
    return plain.get(var) if isinstance(var, int) else names.get(var)


def same(one: float | None, two: float | None) -> bool:
    """The same number to the bit; what is not known is the same as what is not known."""
    if one is None or two is None or one != one or two != two:
        return one is two or (one is not None and two is not None and one != one and two != two)
    return one == two and (one != 0 or copysign(1.0, one) == copysign(1.0, two))


def _same_all(one: dict, two: dict) -> bool:
    return one.keys() == two.keys() and all(same(value, two[key]) for key, value in one.items())


def _same_hidden(one: tuple, two: tuple, on: frozenset[Var]) -> bool:
    """Whether a call hides the same of what counts."""
    for a, b in zip(one, two, strict=True):
        a, b = a or {}, b or {}
        if a is not b and any(not same(a.get(v), b.get(v)) for v in ({*a, *b} if ANY in on else on)):
            return False
    return True


def side_of(left: float, right: float) -> int:
    """The sign of left less right, 2 where one of them is not known."""
    if not (isfinite(left) and isfinite(right)):
        return 2
    return (left > right) - (left < right)


def frozen(value: Any) -> Any:
    """Everything that an object holds, as something that can be written out and held against another."""
    if isinstance(value, list | tuple):
        return [frozen(each) for each in value]
    if isinstance(value, dict):
        return [(key, frozen(each)) for key, each in value.items()]
    if isinstance(value, set | frozenset):
        return sorted(map(repr, value))
    if value is None or isinstance(value, str | int | float):
        return value
    names = [name for kind in type(value).__mro__ for name in getattr(kind, "__slots__", ())]
    names += getattr(value, "__dict__", ())
    return [(name, frozen(getattr(value, name))) for name in names]
