"""A program's outline: where subprograms, loops and branches begin and end, and where numbers stand.

The law: computed once from what is written, before anything is run. A step of flow with no partner is a
finding at its line, and has none here.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from .written import Block, Flow, Name, Number, Value

Key = int | str
LEAVING = frozenset({"M2", "M30", "M98", "M97", "M99"})  # a program number behind them is the next program's
CLOSERS = {"ENDSUB": ("SUB",), "ENDIF": ("IF",), "ENDWHILE": ("WHILE",), "ENDREPEAT": ("REPEAT",),
           "END": ("WHILE", "DO")}
OPENERS = frozenset({"SUB", "IF", "WHILE", "DO", "REPEAT"})
LOOPS = frozenset({"WHILE", "DO", "REPEAT"})
WITHIN = frozenset({"ELSEIF", "ELSE", "BREAK", "CONTINUE"})


@dataclass
class Outline:
    """Positions are indices of the block list.

    numbers: where each N stands · programs: where each O number's program begins · begins: positions at
    which another program begins · subs: SUB of each label · partner: from a step to the one that closes or
    opens it · branch: from IF and ELSEIF to the next ELSEIF, ELSE or ENDIF · loop: from BREAK and CONTINUE
    to their loop's opening step · unmatched: positions of steps with no partner.
    """

    numbers: dict[int, list[int]] = field(default_factory=dict)
    programs: dict[int, int] = field(default_factory=dict)
    begins: set[int] = field(default_factory=set)
    subs: dict[Key, int] = field(default_factory=dict)
    partner: dict[int, int] = field(default_factory=dict)
    branch: dict[int, int] = field(default_factory=dict)
    loop: dict[int, int] = field(default_factory=dict)
    unmatched: list[int] = field(default_factory=list)

    def matched(self, at: int) -> bool:
        """Whether the step at a position has what it needs to be carried out."""
        return at in self.partner or at in self.branch or at in self.loop

    def calls_by_label(self, block: Block) -> bool:
        """O103 alone on a line calls the subprogram of that label, where there is one."""
        return block.program in self.subs and not block.words


def key_of(value: Value | None) -> Key | None:
    """A label or number that is written out; None for one that is calculated."""
    if isinstance(value, Number):
        return round(value.value)
    return value.text if isinstance(value, Name) else None


def outline(blocks: Sequence[Block]) -> Outline:
    """The outline of a program."""
    drawn, open_steps = Outline(), []
    for at, block in enumerate(blocks):
        if block.number is not None:
            drawn.numbers.setdefault(block.number, []).append(at)
        if block.program is not None:
            _program(drawn, block, at)
        elif block.parts:
            drawn.begins.add(at + 1 if _ends(block) else at)
        if block.flow is not None:
            _step(drawn, open_steps, block.flow, at)
    for _, _, at in open_steps:
        drawn.unmatched += [at, *_branches(drawn, at)]
    return drawn


def _branches(drawn: Outline, at: int) -> Iterator[int]:
    """The branches of an IF that is never closed: they have no end to go to either."""
    while at in drawn.branch:
        at = drawn.branch.pop(at)
        yield at


def _program(drawn: Outline, block: Block, at: int) -> None:
    """The program of that number begins on this line, or behind it where the line ends another one."""
    begin = at + 1 if _ends(block) else at
    drawn.programs.setdefault(block.program or 0, begin)
    drawn.begins.add(begin)


def _ends(block: Block) -> bool:
    """Whether the line ends the program before it: what else stands on it is then the next one's."""
    return any(w.letter == "M" and isinstance(w.value, Number) and f"M{w.value.value:g}" in LEAVING
               for w in block.words)


Open = tuple[str, Key | None, int]  # step, label, position


def _step(drawn: Outline, open_steps: list[Open], flow: Flow, at: int) -> None:
    key = key_of(flow.target if flow.label is None else flow.label)
    closes_do = flow.step == "WHILE" and flow.label is not None and _is_open(open_steps, ("DO",), key)
    if flow.step in CLOSERS or closes_do:
        _close(drawn, open_steps, ("DO",) if closes_do else CLOSERS[flow.step], key, at)
    elif flow.step in OPENERS:
        open_steps.append((flow.step, key, at))
        if flow.step == "SUB" and key is not None:
            drawn.subs.setdefault(key, at)
    elif flow.step in WITHIN:
        _within(drawn, open_steps, flow.step, key, at)


def _is_open(open_steps: list[Open], steps: tuple[str, ...], key: Key | None) -> bool:
    return bool(open_steps) and open_steps[-1][0] in steps and open_steps[-1][1] == key


def _close(drawn: Outline, open_steps: list[Open], steps: tuple[str, ...], key: Key | None, at: int) -> None:
    if not _is_open(open_steps, steps, key):
        drawn.unmatched.append(at)
        return
    begin = open_steps.pop()[2]
    last = begin
    while last in drawn.branch:  # an IF: its chain of branches ends here
        last = drawn.branch[last]
        drawn.partner[last] = at
    drawn.branch[last] = at
    drawn.partner[begin], drawn.partner[at] = at, begin


def _within(drawn: Outline, open_steps: list[Open], step: str, key: Key | None, at: int) -> None:
    wanted = LOOPS if step in ("BREAK", "CONTINUE") else {"IF"}
    opened = next((o for o in reversed(open_steps) if o[0] in wanted and o[1] == key), None)
    if opened is None:
        drawn.unmatched.append(at)
    elif wanted is LOOPS:
        drawn.loop[at] = opened[2]
    else:
        last = opened[2]
        while last in drawn.branch:
            last = drawn.branch[last]
        drawn.branch[last] = at
