"""Whether a program can still reach an end, whatever its counters come to: a walk over all ways at once.

The law: never wrongly no. From where the program stands every line that may be run next is followed, with a
range for each parameter that holds all that it may come to there (ranges.py); where ways meet the ranges are
joined, and what goes on growing is widened, to the numbers that the program itself holds, then to what can be
counted up within the program's budget. What is not understood counts as an end. If no end is met, there is
none within the budget. Method: P. Cousot and R. Cousot, Abstract interpretation, POPL 1977; from memory.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import ceil, floor, inf, isfinite, nan, nextafter
from typing import TYPE_CHECKING

from .dependence import ARGUMENTS, MACROS, Var, bare, reads, target_of
from .outline import key_of
from .parameters import is_live
from .ranges import EVERY, Range, hull, one, range_of
from .written import Assignment, Block, Call, Chain, Flow, Name, Number, Signed, Value, Word

if TYPE_CHECKING:
    from .flow import Course

MOST_STEPS = 6000  # lines looked at
SEEN_OFTEN = 3  # times that a line is come to before what grows is widened
CALL_WORDS = frozenset("MPLQ")
Env = dict[Var, Range]


class Over(Exception):
    """An end may be reached, or nobody can tell."""


@dataclass(frozen=True, slots=True)
class Frame:
    """An open call: where it began, where it goes back to, whether it may run once more, and what it hides
    (not a part of what makes two frames the same)."""

    begin: int
    back: int
    more: bool
    hides: bool


Place = tuple[int, tuple[Frame, ...]]
Hidden = tuple[Env, ...]
Way = tuple[Place, Env, Hidden]


def no_end(course: Course, to: int) -> bool:
    """Whether no end can be reached from the position `to`, to which the course is about to go."""
    if not course.began:
        return False
    try:
        Outlook(course).walk(to)
    except Over:
        return False
    return True


class Outlook:
    """All ways from one place on."""

    def __init__(self, course: Course) -> None:
        self.course, self.blocks, self.drawn = course, course.blocks, course.drawn
        self.dialect = course.control.dialect
        self.macros = course.control.rule("flow.kind")
        self.at_once = course.values.at_once
        self.marks = _marks(course)
        self.limits: dict[Var, float] = {}

    def walk(self, to: int) -> None:
        """Raises Over."""
        start = _start(self.course, to)
        self.limits = _limits(self.course, start[1], start[2])
        seen: dict[Place, tuple[Env, Hidden, int]] = {}
        waiting = [start]
        for _ in range(MOST_STEPS):
            if not waiting:
                return
            place, env, hidden = waiting.pop()
            known = seen.get(place)
            if known is not None:
                joined = self._joined(known[0], env, known[2])
                kept = tuple(self._joined(a, b, known[2]) for a, b in zip(known[1], hidden, strict=True))
                if joined == known[0] and kept == known[1]:
                    continue
                env, hidden = joined, kept
            seen[place] = env, hidden, known[2] + 1 if known else 1
            waiting += self._next(place, env, hidden)
        raise Over

    def _joined(self, before: Env, now: Env, often: int) -> Env:
        joined = {}
        for var in before.keys() | now.keys():
            a, b = before.get(var), now.get(var)
            if a is None or b is None:
                joined[var] = (a or b or EVERY).doubtful()
            else:
                joined[var] = self._wider(var, a, hull(a, b)) if often >= SEEN_OFTEN else hull(a, b)
        return joined

    def _wider(self, var: Var, a: Range, b: Range) -> Range:
        low, high, most = b.low, b.high, self.limits.get(var, inf)
        if low < a.low:
            at = bisect_right(self.marks, low) - 1
            low = max(self.marks[at], -most) if at >= 0 else -most
        if high > a.high:
            at = bisect_left(self.marks, high)
            high = min(self.marks[at], most) if at < len(self.marks) else most
        return Range(low, high, b.whole, b.sure and isfinite(low) and isfinite(high))

    # --- what a line leads to ---

    def _next(self, place: Place, env: Env, hidden: Hidden) -> Iterable[Way]:
        (at, frames), course = place, self.course
        if not 0 <= at < len(self.blocks):
            raise Over
        block = self.blocks[at]
        if at in course.marked:
            elsewhere = self._elsewhere(at, block, frames, env, hidden)
            if elsewhere is not None:
                return elsewhere
        skipped = block.skippable and course.control.setting.block_delete
        if block.flow is not None and not skipped:
            return self._step(at, block, block.flow, frames, env, hidden)
        return [((at + 1, frames), env, hidden)] if skipped or block.bad else self._line(
            at, block, frames, env, hidden)

    def _elsewhere(self, at: int, block: Block, frames: tuple[Frame, ...], env: Env,
                   hidden: Hidden) -> Iterable[Way] | None:
        """As Course has it: a label alone calls, another program's beginning ends this one."""
        if self.course.labels and block.program is not None and block.program not in self.drawn.subs:
            return [((at + 1, frames), env, hidden)]
        if self.drawn.calls_by_label(block):
            return self._call(self.drawn.subs[block.program or 0], at + 1, one(1.0), None, frames, env, hidden)
        if at in self.drawn.begins and at != (frames[-1].begin if frames else -1):
            return self._return(frames, env, hidden)
        return None

    def _line(self, at: int, block: Block, frames: tuple[Frame, ...], env: Env, hidden: Hidden) -> Iterable[Way]:
        """Words and settings."""
        after = self._set(block.assignments, env) if block.assignments else env
        codes = [word for word in block.words if word.letter in "GM"]
        if any(not isinstance(word.value, Number) for word in codes):
            raise Over
        numbers = {(word.letter, word.value.value) for word in codes if isinstance(word.value, Number)}
        if ("M", 2.0) in numbers or ("M", 30.0) in numbers:
            raise Over
        macro = any(("G", float(code)) in numbers for code in MACROS)
        leads = next((code for code in (97, 98, 99) if ("M", float(code)) in numbers), 0)
        if (macro or leads) and self.macros == "none":
            raise Over
        if macro:
            return self._macro(at, block, frames, after, hidden)
        if leads:
            return self._leads(at, leads, block, frames, after, hidden)
        on: list[Way] = [((at + 1, frames), after, hidden)]
        if block.words and not frames and self.course.modal is not None:  # it is called where the line moves
            on += self._modal(self.course.modal, at, frames, after, hidden)
        return on

    def _modal(self, words: dict[str, float], at: int, frames: tuple[Frame, ...], env: Env,
               hidden: Hidden) -> Iterable[Way]:
        number = words.get("P", nan)
        begin = self.drawn.programs.get(round(number)) if isfinite(number) else None
        given: Env = {ARGUMENTS[letter]: one(value) for letter, value in words.items() if letter in ARGUMENTS}
        return self._call(begin, at + 1, one(words.get("L", 1.0)), given, frames, env, hidden)

    def _leads(self, at: int, code: int, block: Block, frames: tuple[Frame, ...], env: Env,
               hidden: Hidden) -> Iterable[Way]:
        words = {word.letter: word.value for word in block.words}
        if not CALL_WORDS.issuperset(words) or len(words) < len(block.words):
            raise Over
        number = words.get("P" if code != 98 or "P" in words else "Q")
        if code == 99:
            return self._return(frames, env, hidden, number, at + 1)
        if not isinstance(number, Number) or not 0 <= number.value < 10_000 or set("KL") & set(words) - {"L"}:
            raise Over
        if code == 98 and "P" in words:
            wanted = round(number.value)
            begin = self.drawn.programs.get(wanted, self.drawn.subs.get(wanted))
        else:
            begin = next(iter(self.drawn.numbers.get(round(number.value), ())), None)
        times = range_of(words["L"], env, self.dialect) if "L" in words else one(1.0)
        return self._call(begin, at + 1, times, None, frames, env, hidden)

    def _macro(self, at: int, block: Block, frames: tuple[Frame, ...], env: Env, hidden: Hidden) -> Iterable[Way]:
        words = {word.letter: word.value for word in block.words}
        number = words.get("P")
        if words.get("G") != Number(65.0, False) or not isinstance(number, Number) or (
                len(words) < len(block.words) or self.macros not in ("macros", "both")):
            raise Over
        begin = self.drawn.programs.get(round(number.value))
        given: Env = {ARGUMENTS[letter]: range_of(value, env, self.dialect)
                      for letter, value in words.items() if letter in ARGUMENTS}
        times = range_of(words["L"], env, self.dialect) if "L" in words else one(1.0)
        return self._call(begin, at + 1, times, given, frames, env, hidden)

    # --- steps of flow ---

    def _step(self, at: int, block: Block, flow: Flow, frames: tuple[Frame, ...], env: Env,
              hidden: Hidden) -> Iterable[Way]:
        drawn = self.drawn

        def to(position: int, held: Env = env) -> Way:
            return (position, frames), held, hidden

        match flow.step:
            case "THEN":
                return self._then(at, block, flow, to, frames, env, hidden)
            case "GOTO":
                holds, fails = self._decided(flow.values[0], env) if flow.values else (env, None)
                ways = [to(at + 1, fails)] if fails is not None else []
                return ways if holds is None else [*ways, *(
                    to(position, holds) for position in self._targets(flow.target, at + 1, holds))]
            case "CALL":
                return self._labelled_call(at, flow, frames, env, hidden)
            case "RETURN":
                return self._comes_back(at, flow, frames, env, hidden)
        if not drawn.matched(at):
            return [to(at + 1)]
        match flow.step:
            case "IF":
                return self._if(at, flow, to, env)
            case "ELSEIF" | "ELSE":
                return [to(drawn.partner[at] + 1)]
            case "WHILE":
                return self._while(at, flow, to, env)
            case "ENDWHILE" | "END":
                return [to(drawn.partner[at])]
            case "REPEAT":
                return self._repeat(at, flow, to, env)
            case "ENDREPEAT":
                return [to(drawn.partner[at] + 1), to(at + 1)]
            case "BREAK":
                return [to(drawn.partner[drawn.loop[at]] + 1)]
            case "CONTINUE":
                return [to(drawn.partner[drawn.loop[at]])]
            case "SUB":
                return [to(at + 1 if at == (frames[-1].begin if frames else -1) else drawn.partner[at] + 1)]
            case "ENDSUB":
                return self._comes_back(at, flow, frames, env, hidden)
        return [to(at + 1)]

    def _then(self, at, block, flow, to, frames, env, hidden) -> Iterable[Way]:
        holds, fails = self._decided(flow.values[0], env)
        ways = [to(at + 1, fails)] if fails is not None else []
        return ways if holds is None else [*ways, *self._line(at, block, frames, holds, hidden)]

    def _if(self, at, flow, to, env) -> Iterable[Way]:
        ways, left = [], env
        while left is not None:
            holds, left = self._decided(flow.values[0], left)
            if holds is not None:
                ways.append(to(at + 1, holds))
            if left is None:
                break
            at = self.drawn.branch[at]
            step = self.blocks[at].flow
            if step is None or step.step != "ELSEIF":
                ways.append(to(at + 1, left))
                break
            flow = step
        return ways

    def _while(self, at, flow, to, env) -> Iterable[Way]:
        partner = self.drawn.partner[at]
        holds, fails = self._decided(flow.values[0], env)
        inside, outside = (partner + 1, at + 1) if partner < at else (at + 1, partner + 1)
        return [to(where, held) for where, held in ((inside, holds), (outside, fails)) if held is not None]

    def _repeat(self, at, flow, to, env) -> Iterable[Way]:
        count = range_of(flow.values[0], env, self.dialect)
        ways = [to(at + 1)] if count.high >= 0.5 else []
        return ways if count.sure and count.low > 0.5 else [*ways, to(self.drawn.partner[at] + 1)]

    def _targets(self, target: Value | None, from_: int, env: Env) -> Iterator[int]:
        """Where GOTO may lead: on to the next line too, where its number may be nowhere."""
        number = EVERY if target is None else range_of(target, env, self.dialect)
        for label, places in self.drawn.numbers.items():
            if number.low - 0.5 <= label <= number.high + 0.5:
                yield next((p for p in places if p >= from_), places[0])
        if not number.single or round(number.low) not in self.drawn.numbers:
            yield from_

    # --- calls ---

    def _labelled_call(self, at: int, flow: Flow, frames: tuple[Frame, ...], env: Env,
                       hidden: Hidden) -> Iterable[Way]:
        label = key_of(flow.label)
        if label is None:
            raise Over
        given = dict.fromkeys(range(1, 31), one(0.0))
        for n, value in enumerate(flow.values, 1):
            known = range_of(value, env, self.dialect)
            given[n] = known if known.sure else hull(known, one(0.0)).doubtful()
        return self._call(self.drawn.subs.get(label), at + 1, one(1.0), given, frames, env, hidden)

    def _call(self, begin: int | None, back: int, times: Range, given: Env | None, frames: tuple[Frame, ...],
              env: Env, hidden: Hidden) -> Iterable[Way]:
        ways: list[Way] = []
        if begin is None or not times.sure or times.low <= 0.5:
            ways.append(((back, frames), env, hidden))
        if begin is None or times.high < 0.5:
            return ways
        if len(frames) >= 100:  # the course stops there
            return ways
        frame = Frame(begin, back, not times.sure or times.high > 1.5, given is not None)
        if given is not None:
            hidden = (*hidden, {v: r for v, r in env.items() if _is_local(v)})
            env = {**{v: r for v, r in env.items() if not _is_local(v)}, **given}
        return [*ways, ((begin, (*frames, frame)), env, hidden)]

    def _comes_back(self, at: int, flow: Flow, frames: tuple[Frame, ...], env: Env,
                    hidden: Hidden) -> Iterable[Way]:
        env = {**env, "_value": EVERY} if flow.values else env
        return self._return(frames, env, hidden) if frames else [((at + 1, frames), env, hidden)]

    def _return(self, frames: tuple[Frame, ...], env: Env, hidden: Hidden, goto: Value | None = None,
                after: int = 0) -> Iterable[Way]:
        if not frames:
            if goto is None:
                raise Over
            return [((position, frames), env, hidden) for position in self._targets(goto, after, env)]
        *outer, frame = frames
        ways: list[Way] = [((frame.begin, frames), env, hidden)] if frame.more else []
        targets = [frame.back] if goto is None else self._targets(goto, frame.back, env)
        if frame.hides:
            env = {**{v: r for v, r in env.items() if not _is_local(v)}, **hidden[-1]}
            hidden = hidden[:-1]
        return [*ways, *(((position, tuple(outer)), env, hidden) for position in targets)]

    # --- values ---

    def _set(self, assignments: Iterable[Assignment], env: Env) -> Env:
        after = dict(env)
        for each in assignments:
            read = after if self.at_once else env
            value = range_of(each.value, read, self.dialect)
            if isinstance(each.index, Name):
                after[each.index.text] = self._held(each.index.text, after, value)
                continue
            number = target_of(each.index)
            if number is None:
                index = range_of(each.index, read, self.dialect)
                for var in [v for v in after if isinstance(v, int) and index.low - 1 <= v <= index.high + 1]:
                    after[var] = hull(after[var], self._held(var, after, value))
                continue
            if not is_live(number):
                after[number] = self._held(number, after, value)
        return after

    def _held(self, var: Var, env: Env, value: Range) -> Range:
        """What a parameter holds once that is set; it may stay as it was where there is no value."""
        most = self.limits.get(var, inf)
        if value.largest > most:
            low, high = max(value.low, -most), min(value.high, most)
            value = Range(min(low, high), max(low, high), value.whole, value.sure)
        return value if value.sure else hull(value, env.get(var, EVERY)).doubtful()

    def _decided(self, value: Value, env: Env) -> tuple[Env | None, Env | None]:
        """The parameters where a condition may hold, and where it may not; None where it cannot be so."""
        known = range_of(value, env, self.dialect)
        may, may_not = _may(known)
        if not (may and may_not):
            return env if may else None, env if may_not else None
        return self._where(value, env, True), self._where(value, env, False)

    def _where(self, value: Value, env: Env, wanted: bool) -> Env | None:
        """The parameters narrowed to where a condition may come out as wanted."""
        cuts = sorted({*_numbers(value), *(end for v in reads(value) if v in env for end in env[v][:2])})
        for var in sorted(reads(value) & env.keys(), key=str):
            if not env[var].sure:
                continue
            left = [piece for piece in _pieces(env[var], cuts)
                    if _may(range_of(value, {**env, var: piece}, self.dialect))[not wanted]]
            if not left:
                return None
            env = {**env, var: Range(left[0].low, left[-1].high, env[var].whole)}
        return env


def _may(known: Range) -> tuple[bool, bool]:
    """Whether a condition may hold, and may not; what is no number does not."""
    return (known.low, known.high) != (0, 0), known.low <= 0 <= known.high or not known.sure


def _pieces(whole: Range, cuts: Iterable[float]) -> Iterator[Range]:
    """A range cut at numbers: what is below each, itself, what is above, in order."""
    low = whole.low
    for cut in cuts:
        if low <= cut <= whole.high:
            yield from _tight(low, nextafter(cut, -inf), whole.whole)
            yield from _tight(cut, cut, whole.whole)
            low = nextafter(cut, inf)
    yield from _tight(low, whole.high, whole.whole)


def _tight(low: float, high: float, whole: bool) -> Iterator[Range]:
    if whole and isfinite(low) and isfinite(high):
        low, high = float(ceil(low)), float(floor(high))
    if low <= high:
        yield Range(low, high, whole)


def _is_local(var: Var) -> bool:
    return 1 <= var <= 33 if isinstance(var, int) else not var.startswith("_")


def _numbers(value: Value) -> Iterator[float]:
    match value:
        case Number(number) if isfinite(number):
            yield from (number, -number)
        case Signed(_, inner):
            yield from _numbers(inner)
        case Call(_, argument, second):
            yield from _numbers(argument)
            yield from _numbers(second) if second is not None else ()
        case Chain(values, _):
            for each in values:
                yield from _numbers(each)


# --- where the walk begins ---

def _start(course: Course, to: int) -> Way:
    parameters = course.values.parameters
    env: Env = {v: one(x) for v, x in (*parameters.plain.items(), *parameters.names.items())
                if not (isinstance(v, int) and is_live(v))}
    frames = tuple(Frame(c.begin, c.back, c.left > 1, c.hidden is not None) for c in course.calls)
    hidden = tuple({v: one(x) for v, x in (*(c.hidden or {}).items(), *(c.names or {}).items())}
                   for c in course.calls if c.hidden is not None)
    return (to, frames), env, hidden


def _marks(course: Course) -> list[float]:
    """The program's own numbers, and what lies next to them: where ranges are likely to end."""
    found = {0.0}
    for value in _values(course.blocks):
        found.update(_numbers(value))
        if len(found) > 1000:
            break
    return sorted({near for x in found for near in (nextafter(x, -inf), x, nextafter(x, inf), x - 1.0, x + 1.0)})


def _values(blocks: Iterable[Block]) -> Iterator[Value]:
    for block in blocks:
        if block.assignments or block.flow is not None:
            yield from (each.value for each in block.assignments)
            yield from block.flow.values if block.flow is not None else ()


def _limits(course: Course, env: Env, hidden: Hidden) -> dict[Var, float]:
    """How far from zero parameters can be counted up within the budget: those that a line sets to themselves
    plus or less something that is itself within limits, or to something that is."""
    rule = course.control.rule
    often = 10.0 * rule("flow.max_moves") * rule("flow.max_steps")  # lines that can be run in all
    settings = _settings(course.blocks)
    limits: dict[Var, float] = {}
    for _ in range(4):
        ranges: Env = {v: Range(-most, most) for v, most in limits.items()}
        for var in (v for v in env if v not in limits):
            most = max([held[var].largest for held in (env, *hidden) if var in held])
            for value in [*settings.get(var, ()), *(settings.get(None, ()) if isinstance(var, int) else ())]:
                most = max(most, _reach(var, value, ranges, often, course, most))
            if most < 1e150:
                limits[var] = most
        if len(limits) == len(ranges):
            break
    return limits


def _reach(var: Var, value: Value, ranges: Env, often: float, course: Course, begin: float) -> float:
    """How far one setting can bring a parameter."""
    value, dialect = bare(value), course.control.dialect
    if isinstance(value, Chain) and set(value.operators) <= {"+", "-"} and var in reads(value):
        terms = list(zip(("+", *value.operators), value.values, strict=True))
        itself = [t for t in terms if t[0] == "+" and reads(t[1]) == {var} and not isinstance(
            bare(t[1]), Chain | Call | Signed)]
        if len(itself) == 1:
            terms.remove(itself[0])
            return begin + often * sum(range_of(v, ranges, dialect).largest for _, v in terms)
    return range_of(value, ranges, dialect).largest


def _settings(blocks: Iterable[Block]) -> dict[Var | None, list[Value]]:
    """What parameters are set to, anywhere; under None what any of them may be set to."""
    found: dict[Var | None, list[Value]] = {}
    for block in blocks:
        for each in block.assignments:
            index = each.index.text if isinstance(each.index, Name) else target_of(each.index)
            found.setdefault(index, []).append(each.value)
        if block.flow is not None and block.flow.step == "CALL":
            for n in range(1, 31):
                found.setdefault(n, []).append(block.flow.values[n - 1] if n <= len(block.flow.values)
                                               else Number(0.0))
        for word in _given(block):
            found.setdefault(ARGUMENTS[word.letter], []).append(word.value)
    return found


def _given(block: Block) -> list[Word]:
    """The arguments of G65."""
    macro = any(w.letter == "G" and not (isinstance(w.value, Number) and w.value.value not in MACROS)
                for w in block.words)
    return [w for w in block.words if macro and w.letter in ARGUMENTS]
