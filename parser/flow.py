"""Program flow: which line is run next.

The law: a Course walks through the blocks of a program by its Outline: subprograms, loops, branches, jumps,
in both families (labelled O words; user macros). A loop that cannot end is found by what it hangs on
(endless.py); one of which that cannot be told ends at a budget: lines run again without a move in between
(`flow.max_steps`), or moves (`flow.max_moves`). Lines that run for the first time count for nothing. What
only the machine knows decides nothing here: it is said, and places are unknown behind it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from math import isfinite, isnan, nan

from .control import Control, Reason, Span
from .dependence import ARGUMENTS, parted
from .drift import side_of
from .endless import Endless
from .finding import Finding
from .modes import Group
from .motion import TooManyMoves
from .orders import Order
from .outline import Outline, key_of, outline
from .ready import NOT_READY, Ready
from .sections import Section, sections
from .values import Values
from .written import Block, Chain, Flow, Number, Parameter, Value

DEEPEST = 100  # calls in calls
M99 = ([("M", Number(99.0))], [("M", Number(99.0, True))])
LABEL_LOCALS, MACRO_LOCALS = range(1, 31), range(1, 34)


@dataclass(slots=True)
class Call:
    """A subprogram that is being run: where it began and where to go back to, how often it is still to be
    run, the parameters that it hides, and the modes at the call."""

    begin: int
    back: int
    left: int
    hidden: dict[int, float] | None
    names: dict[str, float] | None
    modes: tuple


@dataclass
class Course:
    """The way through a program. `run` carries out a line that is no step of flow, `skips` says whether the
    operator's switch leaves out a line with a slash; `prepare` makes a line ready that will run again."""

    blocks: Sequence[Block]
    control: Control
    values: Values
    run: Callable[[Block], None]
    skips: Callable[[], bool]
    prepare: Callable[[Block], Callable[[], bool] | None] | None = None
    taken: dict[int, Callable[[], bool]] = field(default_factory=dict)  # lines made ready, by position
    looked: set[int] = field(default_factory=set)  # where that was tried
    drawn: Outline = field(init=False)
    calls: list[Call] = field(default_factory=list)
    counts: dict[int, int] = field(default_factory=dict)  # turns left of REPEAT
    entered: dict[int, int] = field(default_factory=dict)  # how often it was come to
    ran: set[int] = field(default_factory=set)
    then: dict[int, Block] = field(default_factory=dict)  # what a THEN carries out
    next: int = 0
    steps: int = 0
    moves: int = 0
    began: bool = False
    stopped: bool = False
    again: bool = False  # the line at hand was run before
    modal: dict[str, float] | None = None  # G66's words
    labels: bool = False  # program flow by labelled O words alone
    parts: tuple[Section, ...] = ()  # of the file, and those that are run by themselves
    programs: tuple[Section, ...] = ()
    part: Section | None = None  # the one that is run

    def __post_init__(self) -> None:
        self.drawn = outline(self.blocks)
        self.labels = self.control.rule("flow.kind") == "labels"
        if self.labels:  # there a number alone is a call
            self.drawn.begins = {at for at in self.drawn.begins
                                 if at < len(self.blocks) and self.blocks[at].program is None}
        self.parts = sections(self.blocks, self.drawn)
        self.programs = tuple(part for part in self.parts if part.main)
        self.limit = self.control.rule("flow.max_steps")
        self.watch = Endless(self)
        self.ready = Ready(self.control.dialect, self.control.doubts)
        numbered = (at for at, block in enumerate(self.blocks) if block.program is not None)
        self.marked = self.drawn.begins | {
            at for at in numbered if self.labels or self.drawn.calls_by_label(self.blocks[at])}

    def walk(self) -> None:
        """From the program's first line to its end: the one that is asked for, else the file's first."""
        self._unbalanced()
        self._begin()
        try:
            while 0 <= self.next < len(self.blocks) and not (self.control.ended or self.stopped):
                self.step()
                if self.next in self.taken:
                    self._straight_on()
        except TooManyMoves as most:
            self.endless("flow-moves", self.watch.outermost(), most.most)

    def _begin(self) -> None:
        wanted, line = self.control.setting.program, self.control.setting.at
        self.part = next((part for part in self.programs if line == part.line or (not line
                          and wanted in (None, part.number))), None)
        if self.part is not None:
            self.next = self.part.begin
        elif wanted is not None and wanted in self.drawn.programs:
            self.next = self.drawn.programs[wanted]
        elif wanted is not None:
            named = ", ".join(f"O{number}" for number in self.drawn.programs) or "no program number"
            self.missing("program-missing", Span(), f"O{wanted}", named=named)
            self.stopped = True

    def _straight_on(self) -> None:
        """Lines that are made ready, one after the other."""
        control, blocks, taken, ran = self.control, self.blocks, self.taken, self.watch.lines
        builder, self.again = control.builder, True

        while (line := taken.get(at := self.next)) is not None and not self.stopped:
            block = blocks[at]
            control.line = block.line
            self.next = at + 1
            ran.add(at)
            self.steps += 1
            if self.steps > self.limit:
                self.endless("flow-steps", self.watch.outermost(self.moves), self.limit)
            if not line():
                self._carry_out(at, block)
                return
            if block.words and len(builder) != self.moves:
                self.moves, self.steps = len(builder), 0

    def step(self) -> None:
        at = self.next
        block = self.blocks[at]
        self.control.line = block.line
        self.next = at + 1
        if at in self.marked and self._elsewhere(at, block):
            return
        self.again = at in self.ran
        if self.again and at not in self.marked:
            self._make_ready(at, block)
        self.ran.add(at)
        self.watch.lines.add(at)
        self.budget()
        self._carry_out(at, block)

    def _carry_out(self, at: int, block: Block) -> None:
        if block.flow is None:
            self.began = self.began or bool(block.words or block.assignments)
            self.run(block)
        elif not (block.skippable and self.skips()):
            self.began = True
            self.flow(at, block)
        if self.control.refused is not None:
            self.stopped = True

    def _make_ready(self, at: int, block: Block) -> None:
        """A line that runs again is made ready once, where it can be."""
        if at in self.looked or self.modal is not None or self.prepare is None:
            return
        self.looked.add(at)
        line = self._ready_step(at, block) if block.flow is not None else (
            self._ready_return if self._returns(block) else self.prepare(block))
        if line is not None:
            self.taken[at] = line

    def _ready_step(self, at: int, block: Block) -> Callable[[], bool] | None:
        """A step of flow that hangs on a comparison, or on nothing."""
        flow = block.flow
        if flow is None or block.skippable or (flow.step != "GOTO" and not self.drawn.matched(at)):
            return None
        if flow.step in ("ENDWHILE", "END"):
            return self._jump(self.drawn.partner[at], self.blocks[self.drawn.partner[at]].line)
        if flow.step == "GOTO":
            if not isinstance(flow.target, Number) or len(self.drawn.numbers.get(round(flow.target.value), ())) != 1:
                return None
            to = self.drawn.numbers[round(flow.target.value)][0]
            if not flow.values:
                return self._jump(to) if to <= at else None
            return self._branch(block.line, flow.values[0], to if to > at else None, at + 1, self._jump(to))
        if flow.step == "WHILE" and self.drawn.partner[at] > at:
            return self._branch(block.line, flow.values[0], at + 1, self.drawn.partner[at] + 1)
        return None

    def _returns(self, block: Block) -> bool:
        """Whether a line is M99 and no more."""
        return not block.skippable and not block.assignments and self.control.rule("flow.kind") != "none" and [
            (word.letter, word.value) for word in block.words] in M99

    def _ready_return(self) -> bool:
        if not self.calls or self.control.comp is not None or self.control.net is not None:
            return False
        self._return()
        return True

    def _jump(self, to: int, line: int = 0) -> Callable[[], bool]:
        def jump() -> bool:
            self.back(to, line)
            return True

        return jump

    def _branch(self, number: int, value: Value, holds: int | None, fails: int,
                jump: Callable[[], bool] = bool) -> Callable[[], bool] | None:
        """On to the position `holds` or `fails`; where `holds` is None, to where `jump` leads."""
        reckoned = self.ready.compared(value, "the condition")
        if reckoned is None:
            return None
        parameters, sides = self.values.parameters, self.watch.sides

        def branch() -> bool:
            try:
                truth, side = reckoned(parameters.plain, parameters.names)
            except NOT_READY:
                return False
            sides.add((number, side))
            if not truth:
                self.next = fails
            elif holds is None:
                return jump()
            else:
                self.next = holds
            return True

        return branch

    def _elsewhere(self, at: int, block: Block) -> bool:
        """Whether the line with a program's number leads elsewhere."""
        if self.labels and self.began and block.program is not None and block.program not in self.drawn.subs:
            self.missing("sub-missing", Span(), f"o{block.program}")
            return True
        if self.drawn.calls_by_label(block):
            self.call(self.drawn.subs[block.program or 0], 1)
            return True
        return at in self.drawn.begins and self.began and self._leaves(at)

    def _leaves(self, at: int) -> bool:
        """Another program begins: a subprogram goes back, the main program is at its end."""
        if at == self._entered():
            return False
        if self.calls:
            self._return()
        else:
            self.next = len(self.blocks)
        return True

    def _entered(self) -> int:
        return self.calls[-1].begin if self.calls else -1

    # --- budgets ---

    def budget(self) -> None:
        """Counts the line at hand, where it was run before; a move begins the count anew."""
        moves = len(self.control.builder)
        if moves != self.moves:
            self.moves, self.steps = moves, 0
        self.steps += self.again
        if self.steps > self.limit:
            self.endless("flow-steps", self.watch.outermost(moves), self.limit)

    def endless(self, condition: str, line: int = 0, most: int = 0) -> None:
        """The program is stopped; `line` is that of the loop to blame, 0 the line at hand."""
        self.control.line = line or self.control.line
        self.control.say(condition, about="loop", most=most)
        self.stopped = True

    def back(self, to: int, line: int = 0) -> None:
        """A jump back; `line` is what a person would look at: the loop's condition, else the jump."""
        said = self.watch.back(to, line or self.control.line)
        if said:
            self.endless(said, self.watch.outermost(), self.control.builder.most)
        self.next = to

    # --- steps of flow ---

    def flow(self, at: int, block: Block) -> None:
        flow = block.flow
        assert flow is not None
        if flow.step == "THEN":
            if self.true(flow):
                self.again = at in self.then  # what THEN leads to may run for the first time only now
                self.run(self.then.setdefault(at, replace(block, flow=None)))
        elif flow.step == "CALL":
            self._labelled_call(flow)
        elif flow.step == "GOTO":
            if not flow.values or self.true(flow):
                self._goto(flow)
        elif flow.step == "RETURN" or self.drawn.matched(at):
            STEPS[flow.step](self, at, flow)

    def true(self, flow: Flow) -> bool:
        """Whether a condition holds; one that only the machine knows is said, and does not."""
        value = flow.values[0]
        if self.again and (reckoned := self.ready.compared(value, "the condition")) is not None:
            try:
                holds, side = reckoned(self.values.parameters.plain, self.values.parameters.names)
            except NOT_READY:
                pass
            else:
                self.watch.sides.add((self.control.line, side))
                return holds
        number = self._emptiness(value)
        if number is None:
            number = self.values.calculated(value, "the condition", flow.column, flow.end)
        self._side(value)
        if number is None or isnan(number):
            self.unknown(flow)
            return False
        return number != 0

    def _side(self, value: Value) -> None:
        """Notes on which side a comparison came out, for what looks for loops without an end."""
        sides = parted(value)
        if sides is not None:
            left, right = self.values.known(sides[0]), self.values.known(sides[2])
            self.watch.sides.add((self.control.line, side_of(left, right)))

    def unknown(self, flow: Flow) -> None:
        self.control.say("flow-unknown", Span(flow.column, flow.end), about=flow.step)
        self._lose("lost-flow")

    def _emptiness(self, value: Value) -> float | None:
        """`#1 EQ #0` asks whether #1 is empty: #0 always is (user macros)."""
        if not (isinstance(value, Chain) and value.operators in (("EQ",), ("NE",))):
            return None
        empty = [isinstance(v, Parameter) and v.index == Number(0.0) for v in value.values]
        if not any(empty) or self.control.rule("expr.undefined") != "empty":
            return None
        other = value.values[1 - empty.index(True)]
        missing = (isinstance(other, Parameter) and isinstance(other.index, Number)
                   and self.values.parameters.get(round(other.index.value)) is None)
        return float(missing == (value.operators == ("EQ",)))

    def _if(self, at: int, flow: Flow) -> None:
        """IF, and ELSEIF when the branches before it did not hold."""
        while not self.true(flow):
            at = self.drawn.branch[at]
            step = self.blocks[at].flow
            if step is None or step.step != "ELSEIF":
                break
            flow = step
            self.control.line = self.blocks[at].line
        self.next = at + 1

    def _else(self, at: int, flow: Flow) -> None:
        """The branch before it is done."""
        self.next = self.drawn.partner[at] + 1

    def _while(self, at: int, flow: Flow) -> None:
        partner, holds = self.drawn.partner[at], self.true(flow)
        if partner < at:  # it closes a DO
            if holds:
                self.back(partner + 1)
        elif not holds:
            self.next = partner + 1

    def _again(self, at: int, flow: Flow) -> None:
        """ENDWHILE, END: back to the condition."""
        begin = self.drawn.partner[at]
        self.back(begin, self.blocks[begin].line)

    def _repeat(self, at: int, flow: Flow) -> None:
        count = self.values.calculated(flow.values[0], flow.step, flow.column, flow.end)
        self.entered[at] = self.entered.get(at, 0) + 1
        self.counts[at] = round(count) if count is not None and isfinite(count) else 0
        if self.counts[at] <= 0:
            self.next = self.drawn.partner[at] + 1

    def _end_repeat(self, at: int, flow: Flow) -> None:
        begin = self.drawn.partner[at]
        self.counts[begin] = self.counts.get(begin, 0) - 1
        if self.counts[begin] > 0:
            self.back(begin + 1, self.blocks[begin].line)

    def _break(self, at: int, flow: Flow) -> None:
        self.next = self.drawn.partner[self.drawn.loop[at]] + 1

    def _continue(self, at: int, flow: Flow) -> None:
        self.next = self.drawn.partner[self.drawn.loop[at]]

    def _pass(self, at: int, flow: Flow) -> None:
        """DO with a label, ENDIF: nothing to decide."""

    def _sub(self, at: int, flow: Flow) -> None:
        """A subprogram is passed over where it stands; it is run where it is called."""
        if at != self._entered():
            self.next = self.drawn.partner[at] + 1

    def _end_sub(self, at: int, flow: Flow) -> None:
        if flow.values:
            value = self.values.calculated(flow.values[0], flow.step, flow.column, flow.end)
            if value is not None:
                self.values.parameters.names["_value"] = value
        self._return()

    # --- jumps and calls ---

    def _goto(self, flow: Flow) -> None:
        target = flow.target
        number = None if target is None else self.values.calculated(target, "GOTO", flow.column, flow.end)
        if number is None or isnan(number):
            self.unknown(flow)
        else:
            self.goto(round(number), Span(flow.column, flow.end))

    def goto(self, number: int, where: Span) -> None:
        """To the line with that N: the next one from here, else the first of the program."""
        places = self.drawn.numbers.get(number)
        if not places:
            self.missing("label-missing", where, f"N{number}")
            return
        if len(places) > 1:
            self.control.say("label-twice", where, about=f"N{number}", label=f"N{number}")
        to = next((p for p in places if p >= self.next), places[0])
        if to < self.next:
            self.back(to)
        else:
            self.next = to

    def missing(self, condition: str, where: Span, label: str, named: str = "") -> None:
        self.control.say(condition, where, about=label, label=label, named=named)
        self._lose("lost-call", label)

    def _lose(self, condition: str, label: str = "") -> None:
        control = self.control
        control.lose(range(3), Reason(condition, label or "flow", {"line": control.line, "label": label}))

    def _labelled_call(self, flow: Flow) -> None:
        label = key_of(flow.label)
        if label is None and flow.label is not None:
            number = self.values.calculated(flow.label, "O", flow.column, flow.end)
            label = None if number is None or isnan(number) else round(number)
        begin = self.drawn.subs.get(label) if label is not None else None
        if begin is None:
            name = f"o<{label}>" if isinstance(label, str) else f"O{label}"
            self.missing("sub-missing", Span(flow.column, flow.end), name)
            return
        arguments = {n: self.values.calculated(v, "CALL", flow.column, flow.end) or 0.0
                     for n, v in enumerate(flow.values, 1)}
        self.call(begin, 1, {**dict.fromkeys(LABEL_LOCALS, 0.0), **arguments})

    def call(self, begin: int, times: int, arguments: dict[int, float] | None = None) -> None:
        """Run the lines from `begin` until they return, `times` over; arguments hide the caller's locals."""
        if len(self.calls) >= DEEPEST:
            self.endless("flow-deep", most=DEEPEST)
            return
        if times <= 0:
            return
        parameters = self.values.parameters
        hidden = names = None
        if arguments is not None:
            hidden = {n: parameters.plain[n] for n in MACRO_LOCALS if n in parameters.plain}
            names = {n: v for n, v in parameters.names.items() if not n.startswith("_")}
            self._locals(arguments, {})
        self.calls.append(Call(begin, self.next, times, hidden, names, self._modes()))
        self.next = begin

    def _locals(self, numbers: dict[int, float], names: dict[str, float]) -> None:
        parameters = self.values.parameters
        for number in MACRO_LOCALS:
            parameters.plain.pop(number, None)
        parameters.plain.update(numbers)
        parameters.names = {**{n: v for n, v in parameters.names.items() if n.startswith("_")}, **names}

    def _return(self, goto: int | None = None) -> None:
        """The end of a subprogram: once more, or back to the caller."""
        if not self.calls:
            return
        call = self.calls[-1]
        call.left -= 1
        if call.left > 0:
            self.back(call.begin, self.blocks[call.back - 1].line)
            return
        self.calls.pop()
        self.next = call.back
        if call.hidden is not None:
            self._locals(call.hidden, call.names or {})
        if self._modes() != call.modes:
            self.control.say("modes-changed-in-call", about="subprogram")
        if goto is not None:
            self.goto(goto, Span())

    def _modes(self) -> tuple:
        control = self.control
        return control.modes.absolute, control.modes.plane, control.frames.scale, control.frames.system

    # --- M97, M98, M99, G65 ---

    def after(self, order: Order, moved: bool) -> None:
        """What an order's call codes do to the way, once the rest of its line is carried out."""
        if self.modal is not None and moved and not self.calls:
            self.macro(self.modal, Span())
        found = order.codes.get(Group.CALL)
        if found is None or self.control.rule("flow.kind") == "none":
            return
        code, where = found[0].name, order.of(Group.CALL)
        if code == "M99":
            self._m99(order, where)
        elif code == "M97":
            self._local_call(order, "P", where)
        elif "P" not in order.values and "Q" in order.values:
            self._local_call(order, "Q", where)
        else:
            self._m98(order, where)

    def _m99(self, order: Order, where: Span) -> None:
        number = order.values.get("P", nan)
        goto = round(number) if isfinite(number) else None
        if self.calls:
            self._return(goto)
        elif goto is not None:
            self.goto(goto, where)
        elif self.control.rule("flow.m99_main") == "loop":
            self.endless("flow-main-loops")
        else:
            self.control.say("flow-main-ends", where, about="M99")
            self.next = len(self.blocks)

    def _times(self, order: Order) -> int:
        letter = self.control.rule("flow.m98_repeat_word")
        count = order.values.get(letter, order.values.get("L", 1.0))
        return round(count) if isfinite(count) else 1

    def _local_call(self, order: Order, letter: str, where: Span) -> None:
        """M97 P and M98 Q: the lines from that N on, until M99."""
        number = order.values.get(letter, nan)
        places = self.drawn.numbers.get(round(number)) if isfinite(number) else None
        if places:
            self.call(places[0], self._times(order))
        else:
            self.missing("label-missing", where, f"N{number:g}")

    def _m98(self, order: Order, where: Span) -> None:
        number = order.values.get("P", nan)
        if not isfinite(number):
            self.missing("sub-missing", where, "M98 with no P")
            return
        program, times = self._program(round(number), self._times(order), where)
        begin = self.drawn.programs.get(program, self.drawn.subs.get(program))
        if begin is None:
            self.missing("sub-missing", where, f"O{program}")
        else:
            self.call(begin, times)

    def _program(self, number: int, times: int, where: Span) -> tuple[int, int]:
        """P as a program number, or as repeats and the last four digits of one."""
        if number < 10_000:
            return number, times
        whole, split = number in self.drawn.programs, number % 10_000 in self.drawn.programs
        if whole and split and "flow.m98_p" in self.control.dialect.alternatives:
            self.control.doubt("flow.m98_p", where, "M98")
        elif whole and split:
            self.control.say("m98-two-ways", where, about="M98", number=number, program=number % 10_000,
                             times=number // 10_000)
        packed = self.control.rule("flow.m98_p") == "rrrrpppp"
        if split and (packed or not whole):
            return number % 10_000, number // 10_000
        return number, times

    def takes_macro(self, order: Order) -> bool:
        """Whether the line is a macro call (or begins or ends a modal one) that is followed here."""
        return Group.MACRO in order.codes and self.control.rule("flow.kind") in ("macros", "both")

    def macro_line(self, order: Order) -> None:
        """G65 calls once, G66 at every line that moves until G67."""
        code = order.codes[Group.MACRO][0].name
        if code == "G65":
            self.macro(order.values, order.of(Group.MACRO))
        else:
            self.modal = order.values if code == "G66" else None
            if self.modal is not None:
                self.taken.clear()
                self.looked.clear()

    def macro(self, values: dict[str, float], where: Span) -> None:
        """A subprogram with arguments in its local variables."""
        number = values.get("P", nan)
        begin = self.drawn.programs.get(round(number)) if isfinite(number) else None
        if begin is None:
            self.missing("sub-missing", where, f"O{number:g}")
            return
        arguments = {ARGUMENTS[c]: v for c, v in values.items() if c in ARGUMENTS}
        times = values.get("L", 1.0)
        self.call(begin, round(times) if isfinite(times) else 1, arguments)

    # --- what is said of the program as a whole ---

    def _unbalanced(self) -> None:
        for at in self.drawn.unmatched:
            block = self.blocks[at]
            if block.flow is not None:
                self.control.line = block.line
                where = Span(block.flow.column, block.flow.end)
                self.control.say("flow-unbalanced", where, about=block.flow.step, step=block.flow.step)

    def never_run(self) -> int:
        """The first line behind the end that holds words and was never run; 0 for none. Other programs of
        the file, and what some line calls, are left out."""
        behind = set(range(max(self.ran, default=-1) + 1, len(self.blocks)))
        for part in self.parts:
            if part is not self.part and (part.main or (part.called and len(self.programs) > 1)):
                behind.difference_update(range(part.begin, part.stop))
        return next((self.blocks[at].line for at in sorted(behind)
                     if self.blocks[at].words or self.blocks[at].assignments), 0)

    def own(self) -> Sequence[Block]:
        """The lines that are not another program's."""
        return self.blocks if self.part is None else self.blocks[self.part.begin:self.part.stop]

    def follows(self) -> Block | None:
        """The first line behind the part that is run, None where that is the file's last."""
        last = self.part is None or self.part.stop >= len(self.blocks)
        return None if last or self.part is None else self.blocks[self.part.stop]

    def concerning(self, findings: Sequence[Finding]) -> list[Finding]:
        """Those that are not about lines of another program of the file."""
        apart = [(self.blocks[part.begin].line, self.blocks[part.stop - 1].last) for part in self.others()]
        return [f for f in findings if not any(first <= f.line <= last for first, last in apart)]

    def others(self) -> list[Section]:
        """The other programs of the file, as far as this one did not run them."""
        return [part for part in self.programs if part is not self.part
                and self.ran.isdisjoint(range(part.begin, part.stop))]


Step = Callable[[Course, int, Flow], None]
STEPS: dict[str, Step] = {
    "IF": Course._if, "ELSEIF": Course._else, "ELSE": Course._else, "ENDIF": Course._pass,
    "WHILE": Course._while, "ENDWHILE": Course._again, "END": Course._again, "DO": Course._pass,
    "REPEAT": Course._repeat, "ENDREPEAT": Course._end_repeat, "BREAK": Course._break,
    "CONTINUE": Course._continue, "SUB": Course._sub, "ENDSUB": Course._end_sub, "RETURN": Course._end_sub,
}
