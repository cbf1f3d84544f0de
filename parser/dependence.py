"""What a line's way hangs on: the parameters that it reads to choose the next line, and where values go.

The law: never too little. A parameter with a calculated index may be any of them (ANY); offsets and stored
positions that are read as parameters, and macros that are called where something moves, hang on the control's
whole state (CONTROL), and that on every word. What is named here is enough to know a line's choice, and all
that it hands on to what is named elsewhere.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Sequence
from dataclasses import dataclass

from .outline import Outline
from .parameters import is_live
from .written import Assignment, Block, Call, Chain, Flow, Name, Number, Parameter, Signed, Value, Word

Var = int | str  # a numbered parameter, or a named one
ANY, CONTROL = "<any>", "<control>"  # no name holds a < or >
LEADING = frozenset({97, 98, 99})  # M codes that lead elsewhere
MACROS = frozenset({65, 66, 67})  # G codes that do
ARGUMENTS = dict(zip("ABCIJKDEFHMQRSTUVWXYZ", (1, 2, 3, 4, 5, 6, 7, 8, 9, 11, 13, 17, 18, 19, 20, 21, 22, 23,
                                               24, 25, 26), strict=True))  # G65's letters: practice
COMPARED = frozenset({"EQ", "NE", "GT", "GE", "LT", "LE"})
SUMS = frozenset({"+", "-", "*", "/"})
NOTHING: frozenset[Var] = frozenset()


@dataclass(frozen=True, slots=True)
class Edge:
    """A value goes to `target`; it hangs on `sources`. `value` is what is written, where it is an assignment
    that always happens; None for what is more than that."""

    target: Var
    sources: frozenset[Var]
    value: Value | None = None


@dataclass(frozen=True, slots=True)
class Leaning:
    """What one line hangs on. decides: what the choice of the next line reads · edges: what goes where ·
    conditions: (line, condition) that are asked here, where nothing but these decides · modal: it may call
    macros at later lines · calls: it gives values to a subprogram's own parameters."""

    decides: frozenset[Var] = NOTHING
    edges: tuple[Edge, ...] = ()
    conditions: tuple[tuple[int, Value], ...] | None = ()
    modal: bool = False
    calls: bool = False


NONE = Leaning()


def leaning(blocks: Sequence[Block], at: int, drawn: Outline) -> Leaning:
    """What the line at a position hangs on."""
    block = blocks[at]
    if block.flow is None:
        return _line(block) if block.words or block.assignments else NONE
    if block.flow.step == "THEN":
        return _then(block, block.flow)
    return _step(blocks, at, drawn, block.flow)


def reads(value: Value | None) -> frozenset[Var]:
    """The parameters that a value is calculated from."""
    match value:
        case Parameter(Name(text)) | Name(text):
            return frozenset({text})
        case Parameter(index):
            return _indexed(index)
        case Signed(_, inner):
            return reads(inner)
        case Call(_, argument, second):
            return reads(argument) | reads(second)
        case Chain(values, _):
            return NOTHING.union(*map(reads, values))
    return NOTHING


def bare(value: Value) -> Value:
    """The value without brackets that hold nothing but it."""
    while isinstance(value, Chain) and not value.operators:
        value = value.values[0]
    return value


def parted(value: Value) -> tuple[Value, str, Value] | None:
    """A comparison's left side, operator and right side; None for what is no comparison of two sums."""
    value = bare(value)
    if not isinstance(value, Chain):
        return None
    at = [n for n, operator in enumerate(value.operators) if operator in COMPARED]
    if len(at) != 1 or not set(value.operators) <= COMPARED | SUMS:  # in every family these bind before it
        return None
    cut = at[0]
    return (bare(Chain(value.values[:cut + 1], value.operators[:cut])), value.operators[cut],
            bare(Chain(value.values[cut + 1:], value.operators[cut + 1:])))


def _indexed(index: Value) -> frozenset[Var]:
    number = target_of(index)
    if number is None:
        return reads(index) | {ANY, CONTROL}
    return frozenset({number, CONTROL} if is_live(number) else {number})


def target_of(index: Value) -> int | None:
    """The number of a parameter that is written out, None for a calculated one."""
    index = bare(index)
    return round(index.value) if isinstance(index, Number) and abs(index.value) < 1e9 else None


# --- lines of words and settings ---

def _line(block: Block, under: frozenset[Var] = NOTHING) -> Leaning:
    """`under`: what decides whether the line is carried out."""
    edges = [edge for each in block.assignments for edge in _assigned(each, under)]
    if not block.words:
        return Leaning(NOTHING, tuple(edges))
    every = under.union(*(reads(word.value) for word in block.words))
    if every:
        edges.append(Edge(CONTROL, every))
    return Leaning(*_codes(block.words, under, every, edges))


def _codes(words: Sequence[Word], under: frozenset[Var], every: frozenset[Var],
           edges: list[Edge]) -> tuple[frozenset[Var], tuple[Edge, ...], None, bool, bool]:
    codes = [word for word in words if word.letter in "GM"]
    calculated = any(not isinstance(word.value, Number) for word in codes)
    macro = calculated or _any_of(codes, "G", MACROS)
    if macro:
        edges += [Edge(ARGUMENTS[w.letter], reads(w.value)) for w in words if w.letter in ARGUMENTS]
    leads = macro or under or _any_of(codes, "M", LEADING)
    return every if leads else NOTHING, tuple(edges), None, calculated or _any_of(codes, "G", {66}), macro


def _any_of(codes: Iterable[Word], letter: str, numbers: Container[float]) -> bool:
    return any(w.letter == letter and isinstance(w.value, Number) and w.value.value in numbers for w in codes)


def _assigned(setting: Assignment, under: frozenset[Var]) -> list[Edge]:
    value = reads(setting.value) | under
    if isinstance(setting.index, Name):
        return [Edge(setting.index.text, value, setting.value)]
    number = target_of(setting.index)
    if number is None:
        value |= reads(setting.index)
        return [Edge(ANY, value), Edge(CONTROL, value)]
    always = None if under else setting.value
    return [Edge(number, value, always), *([Edge(CONTROL, value)] if is_live(number) else [])]


# --- steps of flow ---

def _then(block: Block, flow: Flow) -> Leaning:
    return _line(block, reads(flow.values[0]))


def _step(blocks: Sequence[Block], at: int, drawn: Outline, flow: Flow) -> Leaning:
    match flow.step:
        case "IF" | "ELSEIF" | "WHILE":
            asked = [*_asked(blocks, at, drawn)]
            decides = NOTHING.union(*(reads(value) for _, value in asked))
            return Leaning(decides, (), tuple(asked))
        case "GOTO":
            asked = [(blocks[at].line, value) for value in flow.values[:1]]
            target = reads(flow.target)
            decides = target.union(*(reads(value) for _, value in asked))
            return Leaning(decides, (), tuple(asked) if not target else None)
        case "RETURN" | "ENDSUB":
            return Leaning(NOTHING, tuple(Edge("_value", reads(value)) for value in flow.values[:1]))
        case "CALL":
            edges = tuple(Edge(n, reads(value)) for n, value in enumerate(flow.values, 1))
            return Leaning(reads(flow.label), edges, None, calls=True)
    return Leaning(NOTHING.union(*map(reads, flow.values)), (), None if flow.values else ())


def _asked(blocks: Sequence[Block], at: int, drawn: Outline) -> Iterable[tuple[int, Value]]:
    """The condition of an IF or WHILE and those of the branches that are asked when it does not hold."""
    while True:
        flow = blocks[at].flow
        if flow is None or flow.step not in ("IF", "ELSEIF", "WHILE") or not flow.values:
            return
        yield blocks[at].line, flow.values[0]
        if at not in drawn.branch or flow.step == "WHILE":
            return
        at = drawn.branch[at]


def closed(wanted: Iterable[Var], edges: Sequence[Edge]) -> frozenset[Var]:
    """Those and all that their values come from."""
    known, fresh = set(wanted), True
    while fresh:
        fresh = {v for edge in edges if reaches(edge, known) for v in edge.sources} - known
        known |= fresh
    return frozenset(known)


def reaches(edge: Edge, known: set[Var] | frozenset[Var]) -> bool:
    """Whether an edge may lead to one of the parameters."""
    if edge.target == ANY:
        return any(isinstance(v, int) or v in (ANY, CONTROL) for v in known)
    return edge.target in known or (ANY in known and isinstance(edge.target, int))
