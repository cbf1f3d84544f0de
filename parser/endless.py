"""Whether a program can still come to an end: found by what its loops hang on, not by counting.

The law: a loop is endless when it comes back to the same place and nothing that it hangs on has changed, or
only so that it goes on drifting away from every condition. Why that is certain: let the lines that ran since
a place was last marked be the trace, and let D be what their choices of the next line read, and what the
values of D were calculated from on those lines (dependence.py; indirect parameters count as all). Every line
takes D to D by D alone, so from the same place with the same D, the same calls and counts, the same trace is
run again, and so for ever: moves, feeds and counters that no condition asks for do not matter.

The mark is set anew after 1, 2, 4, 8 … jumps back (R. P. Brent, BIT 20 (1980), 176-184: a cycle is found
within a few times its length; from memory), so nested loops need no marks of their own.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

from .dependence import ANY, CONTROL, Leaning, Var, closed, leaning
from .drift import FARTHEST, Asked, Hung, all_asked, held, is_exact, same, stays
from .outlook import no_end

if TYPE_CHECKING:
    from .flow import Course
    from .written import Value

SILENT = frozenset({  # of the control: what it has said and made, and what never changes
    "dialect", "setting", "builder", "findings", "said", "unseen", "doubts", "arcs", "line", "state",
    "behind", "forbidden", "contours", "overlong", "stored"})


FIRST_LOOK, FURTHER = 100, 10
FARTHEST_TIP, AWAY_EVERY = 1e5, 100  # mm: no machine reaches 100 m; asked at so many jumps


@dataclass(frozen=True)
class Mark:
    """The program's state at a jump back to `to`."""

    to: int
    frame: tuple
    calls: tuple  # those that are open: kept, so that no other gets one's id
    plain: dict[int, float]
    names: dict[str, float]
    control: str
    moves: int


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
        self.turns, self.look = 0, FIRST_LOOK  # jumps back in all, and after how many all ways are looked at
        self.known: dict[int, Leaning] = {}
        self.hung: Hung | None = None  # on what these lines hang, as long as no new one comes

    def back(self, to: int, line: int) -> str:
        """A jump back to a position, in the loop that is to blame at `line`; the condition that it is where
        it does not come to an end, "" for a loop that may."""
        course = self.course
        self.jumps[len(course.calls), to] = line, len(course.control.builder)
        self.modal = self.modal or course.modal is not None
        if self.mark is not None and self.mark.to == to and (said := self._comes_back(self.mark)):
            return said
        self.turns += 1
        if self.turns % AWAY_EVERY == 0 and max(map(abs, course.control.tip)) > FARTHEST_TIP:
            return "flow-away"
        if self.turns == self.look:
            self.look *= FURTHER
            if no_end(course, to):
                return "flow-repeats"
        self.count += 1
        if self.count >= self.power:
            self._set_mark(to)
        return ""

    def outermost(self, moves: int = 0) -> int:
        """The line to blame: of the jumps since the mark (those with `moves` moves before them, or more) that
        of the outermost loop; 0 for none."""
        jumps = [(at, line) for at, (line, made) in self.jumps.items() if made >= moves]
        return min(jumps)[1] if jumps else 0

    def _set_mark(self, to: int) -> None:
        parameters = self.course.values.parameters
        self.mark = Mark(to, self._frame(), tuple(self.course.calls), dict(parameters.plain),
                         dict(parameters.names), self._control(), len(self.course.control.builder))
        for each in (self.lines, self.sides, self.jumps):
            each.clear()
        self.modal, self.hung = self.course.modal is not None, None
        self.count, self.power = 0, 2 * self.power

    def _periods(self, mark: Mark) -> int:
        """More times than the budget allows to run what was run since the mark."""
        builder = self.course.control.builder
        moves = len(builder) - mark.moves
        return builder.most // moves + 2 if moves else self.course.limit

    def _frame(self) -> tuple:
        """The turns left of open calls and of counted loops, with which run of them it is; these calls; and
        the macro that is called at every move."""
        course = self.course
        return ([(call.left, id(call)) for call in course.calls],
                {at: (left, course.counted.get(at, 0)) for at, left in course.counts.items()},
                [(call.begin, call.back, call.hidden is None) for call in course.calls],
                course.began, repr(course.modal), [(call.hidden, call.names) for call in course.calls])

    def _control(self) -> str:
        control = self.course.control
        return repr([(name, frozen(value)) for name, value in vars(control).items() if name not in SILENT])

    # --- held against the mark ---

    def _comes_back(self, mark: Mark) -> str:
        if self.hung is None or self.hung.count != len(self.lines):
            self.hung = self._hangs_on()
        on, parameters = self.hung.on, self.course.values.parameters
        moved = self.hung.moved(mark.plain, mark.names, parameters.plain, parameters.names)
        if moved and self.count < self.hung.again.get(moved, 0):
            return ""
        said = self._drifts(moved, self.hung, mark) if moved else "flow-repeats"
        if not said:  # the more often it was asked in vain, the later again
            self.hung.again[moved] = self.count + self.count // 8
            return ""
        frame, periods = self._frame(), self._periods(mark)
        if not _same_frame(frame, mark.frame, on, periods):
            return ""
        if ANY in on and not _same_all(parameters.plain, mark.plain):
            return ""
        if CONTROL in on and (self._acts() or self._control() != mark.control):
            return ""
        ending = any(one[0] != two[0] for one, two in zip(frame[0], mark.frame[0], strict=True)) or any(
            left[0] != mark.frame[1][at][0] for at, left in frame[1].items())
        return "flow-moves" if ending else said

    def _drifts(self, moved: tuple[Var, ...], hung: Hung, mark: Mark) -> str:
        """Whether what has changed only goes on moving away from all that asks for it, or comes nearer to it
        so slowly that the budget of moves is used up before; "" for neither."""
        plain, names = self.course.values.parameters.plain, self.course.values.parameters.names
        if moved not in hung.asked:
            hung.asked[moved] = all_asked(moved, hung, plain, names)
        asked, steps, exact = hung.asked[moved], {}, True
        if asked is None:
            return ""
        for each in moved:
            before, now = held(each, mark.plain, mark.names), held(each, plain, names)
            if before is None or now is None or not abs(before) + abs(now) < FARTHEST:
                return ""
            steps[each] = now - before
            exact = exact and is_exact(before) and is_exact(now)
        said = "flow-repeats"
        for each in asked:
            if not each.single and not (exact and all(is_exact(self._known(v)) for v in each.fixed)):
                return ""
            way = sum(steps[var] * times for var, times in each.terms)
            if not stays(each, way, self.sides):
                if not self._too_far(each, abs(way), len(self.course.control.builder) - mark.moves):
                    return ""
                said = "flow-moves"
        return said

    def _known(self, value: Value) -> float | None:
        return self.course.values.known(value)

    def _too_far(self, asked: Asked, way: float, moves: int) -> bool:
        """Whether a comparison comes out the same until the budget of moves is used up: `way` nearer to the
        other result each time that so many moves are made."""
        left, right = map(self._known, asked.sides)
        if left is None or right is None or not moves or (asked.line, 0) in self.sides or (
                {(asked.line, -1), (asked.line, 1)} <= self.sides):
            return False
        return abs(left - right) > way * (2 + 1.01 * self.course.control.builder.most / moves)

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
        return Hung(len(self.lines), on, leans, edges, modal or any(each.calls for each in leans))


def _same_frame(now: tuple, then: tuple, on: frozenset[Var], periods: int) -> bool:
    """Whether the same calls are open, and hide the same of what counts; with the same turns left, or so many
    that they last for all the periods that the budget allows."""
    return (now[2:5] == then[2:5] and now[1].keys() == then[1].keys()
            and all(map(partial(_lasts, periods=periods), now[0], then[0]))
            and all(_lasts(left, then[1][at], periods) for at, left in now[1].items())
            and all(_same_hidden(a, b, on) for a, b in zip(now[5], then[5], strict=True)))


def _lasts(now: tuple[int, int], then: tuple[int, int], periods: int) -> bool:
    if now[0] == then[0]:
        return True
    return now[1] == then[1] and 0 <= (then[0] - now[0]) * periods <= now[0]


def _same_all(one: dict, two: dict) -> bool:
    return one.keys() == two.keys() and all(same(value, two[key]) for key, value in one.items())


def _same_hidden(one: tuple, two: tuple, on: frozenset[Var]) -> bool:
    """Whether a call hides the same of what counts."""
    for a, b in zip(one, two, strict=True):
        a, b = a or {}, b or {}
        if a is not b and any(not same(a.get(v), b.get(v)) for v in ({*a, *b} if ANY in on else on)):
            return False
    return True


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
