"""Program flow: which line is run next.

The law: a Course walks through the blocks of a program by its Outline: subprograms, loops, branches, jumps,
in both families (labelled O words; user macros). A loop that cannot end is found by what it hangs on
(endless.py); one of which that cannot be told ends at a budget: lines run again without a move in between
(`flow.max_steps`), or moves (`flow.max_moves`). Lines that run for the first time count for nothing. What
only the machine knows decides nothing here: it is said, and places are unknown behind it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from .ahead import Ahead
from .calls import Call, call, come_back
from .control import Control, Reason, Span
from .endless import Endless
from .finding import Finding
from .motion import TooManyMoves
from .outline import Outline, outline
from .ready import Ready
from .sections import Section, sections
from .steps import carry_out
from .values import Values
from .written import Block


@dataclass
class Course:
    """The way through a program. `run` carries out a line that is no step of flow, `skips` says whether the
    operator's switch leaves out a line with a slash; `prepare` makes a line ready that will run again."""

    blocks: Sequence[Block]
    control: Control
    values: Values
    run: Callable[[Block], None]
    skips: Callable[[], bool]
    drawn: Outline = field(init=False)
    calls: list[Call] = field(default_factory=list)
    counts: dict[int, int] = field(default_factory=dict)  # turns left of REPEAT
    counted: dict[int, int] = field(default_factory=dict)  # how often REPEAT was come to
    ran: set[int] = field(default_factory=set)
    then: dict[int, Block] = field(default_factory=dict)  # what a THEN carries out
    next: int = 0
    steps: int = 0
    moves: int = 0
    began: bool = False
    stopped: bool = False
    again: bool = False  # the line at hand was run before
    ahead: Ahead | None = None  # lines made ready, where any are
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
                if self.ahead is not None and self.next in self.ahead.lines:
                    self._straight_on(self.ahead.lines)
                else:
                    self.step()
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

    def _straight_on(self, taken: dict[int, Callable[[], bool]]) -> None:
        """Lines that are made ready, one after the other."""
        control, blocks, ran = self.control, self.blocks, self.watch.lines
        builder, self.again = control.builder, True
        while (line := taken.get(at := self.next)) is not None and not self.stopped:
            block = blocks[at]
            control.line = block.line
            self.next = at + 1
            ran.add(at)
            self.steps += 1
            if self.steps > self.limit:
                self.endless("flow-steps", self.watch.outermost(self.moves), self.limit)
            done = line()
            if not done:
                self._carry_out(at, block)
            if block.words and len(builder) != self.moves:
                self.moves, self.steps = len(builder), 0
            if not done:
                return

    def step(self) -> None:
        at = self.next
        block = self.blocks[at]
        self.control.line = block.line
        self.next = at + 1
        if at in self.marked and self._elsewhere(at, block):
            return
        self.again = at in self.ran
        if self.again and self.ahead is not None and at not in self.marked:
            self.ahead.look(at, block)
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
            carry_out(self, at, block)
        if self.control.refused is not None:
            self.stopped = True

    def _elsewhere(self, at: int, block: Block) -> bool:
        """Whether the line with a program's number leads elsewhere."""
        if self.labels and self.began and block.program is not None and block.program not in self.drawn.subs:
            self.missing("sub-missing", Span(), f"o{block.program}")
            return True
        if self.drawn.calls_by_label(block):
            call(self, self.drawn.subs[block.program or 0], 1)
            return True
        return at in self.drawn.begins and self.began and self._leaves(at)

    def _leaves(self, at: int) -> bool:
        """Another program begins: a subprogram goes back, the main program is at its end."""
        if at == self.entered():
            return False
        if self.calls:
            come_back(self)
        else:
            self.next = len(self.blocks)
        return True

    def entered(self) -> int:
        """Where the subprogram at hand begins, -1 for none."""
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

    # --- jumps ---

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
        self.lose("lost-call", label)

    def lose(self, condition: str, label: str = "") -> None:
        control = self.control
        control.lose(range(3), Reason(condition, label or "flow", {"line": control.line, "label": label}))

    # --- what the file holds ---

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
