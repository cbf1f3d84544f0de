"""Calls: subprograms by M97, M98 and label, macros with arguments, and the ways back.

The law: in both families. What a call hides of the caller's parameters it gives back; a subprogram that comes
back with other modes is said.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite, isnan, nan
from typing import TYPE_CHECKING

from .control import Span
from .dependence import ARGUMENTS
from .modes import Group
from .orders import Order
from .outline import key_of
from .written import Flow

if TYPE_CHECKING:
    from .flow import Course

DEEPEST = 100  # calls in calls
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


def labelled_call(course: Course, flow: Flow) -> None:
    label = key_of(flow.label)
    if label is None and flow.label is not None:
        number = course.values.calculated(flow.label, "O", flow.column, flow.end)
        label = None if number is None or isnan(number) else round(number)
    begin = course.drawn.subs.get(label) if label is not None else None
    if begin is None:
        name = f"o<{label}>" if isinstance(label, str) else f"O{label}"
        course.missing("sub-missing", Span(flow.column, flow.end), name)
        return
    arguments = {n: course.values.calculated(v, "CALL", flow.column, flow.end) or 0.0
                 for n, v in enumerate(flow.values, 1)}
    call(course, begin, 1, {**dict.fromkeys(LABEL_LOCALS, 0.0), **arguments})


def call(course: Course, begin: int, times: int, arguments: dict[int, float] | None = None) -> None:
    """Run the lines from `begin` until they return, `times` over; arguments hide the caller's locals."""
    if len(course.calls) >= DEEPEST:
        course.endless("flow-deep", most=DEEPEST)
        return
    if times <= 0:
        return
    parameters = course.values.parameters
    hidden = names = None
    if arguments is not None:
        hidden = {n: parameters.plain[n] for n in MACRO_LOCALS if n in parameters.plain}
        names = {n: v for n, v in parameters.names.items() if not n.startswith("_")}
        _locals(course, arguments, {})
    course.calls.append(Call(begin, course.next, times, hidden, names, _modes(course)))
    course.next = begin


def _locals(course: Course, numbers: dict[int, float], names: dict[str, float]) -> None:
    parameters = course.values.parameters
    for number in MACRO_LOCALS:
        parameters.plain.pop(number, None)
    parameters.plain.update(numbers)
    parameters.names = {**{n: v for n, v in parameters.names.items() if n.startswith("_")}, **names}


def come_back(course: Course, goto: int | None = None) -> None:
    """The end of a subprogram: once more, or back to the caller."""
    if not course.calls:
        return
    call = course.calls[-1]
    call.left -= 1
    if call.left > 0:
        course.back(call.begin, course.blocks[call.back - 1].line)
        return
    course.calls.pop()
    course.next = call.back
    if call.hidden is not None:
        _locals(course, call.hidden, call.names or {})
    if _modes(course) != call.modes:
        course.control.say("modes-changed-in-call", about="subprogram")
    if goto is not None:
        course.goto(goto, Span())


def _modes(course: Course) -> tuple:
    control = course.control
    return control.modes.absolute, control.modes.plane, control.frames.scale, control.frames.system


def after(course: Course, order: Order, moved: bool) -> None:
    """What an order's call codes do to the way, once the rest of its line is carried out."""
    if course.modal is not None and moved and not course.calls:
        macro(course, course.modal, Span())
    found = order.codes.get(Group.CALL)
    if found is None or course.control.rule("flow.kind") == "none":
        return
    code, where = found[0].name, order.of(Group.CALL)
    if code == "M99":
        _m99(course, order, where)
    elif code == "M97":
        _local_call(course, order, "P", where)
    elif "P" not in order.values and "Q" in order.values:
        _local_call(course, order, "Q", where)
    else:
        _m98(course, order, where)


def _m99(course: Course, order: Order, where: Span) -> None:
    number = order.values.get("P", nan)
    goto = round(number) if isfinite(number) else None
    if course.calls:
        come_back(course, goto)
    elif goto is not None:
        course.goto(goto, where)
    elif course.control.rule("flow.m99_main") == "loop":
        course.endless("flow-main-loops")
    else:
        course.control.say("flow-main-ends", where, about="M99")
        course.next = len(course.blocks)


def _times(course: Course, order: Order) -> int:
    letter = course.control.rule("flow.m98_repeat_word")
    count = order.values.get(letter, order.values.get("L", 1.0))
    return round(count) if isfinite(count) else 1


def _local_call(course: Course, order: Order, letter: str, where: Span) -> None:
    """M97 P and M98 Q: the lines from that N on, until M99."""
    number = order.values.get(letter, nan)
    places = course.drawn.numbers.get(round(number)) if isfinite(number) else None
    if places:
        call(course, places[0], _times(course, order))
    else:
        course.missing("label-missing", where, f"N{number:g}")


def _m98(course: Course, order: Order, where: Span) -> None:
    number = order.values.get("P", nan)
    if not isfinite(number):
        course.missing("sub-missing", where, "M98 with no P")
        return
    program, times = _program(course, round(number), _times(course, order), where)
    begin = course.drawn.programs.get(program, course.drawn.subs.get(program))
    if begin is None:
        course.missing("sub-missing", where, f"O{program}")
    else:
        call(course, begin, times)


def _program(course: Course, number: int, times: int, where: Span) -> tuple[int, int]:
    """P as a program number, or as repeats and the last four digits of one."""
    if number < 10_000:
        return number, times
    whole, split = number in course.drawn.programs, number % 10_000 in course.drawn.programs
    if whole and split and "flow.m98_p" in course.control.dialect.alternatives:
        course.control.doubt("flow.m98_p", where, "M98")
    elif whole and split:
        course.control.say("m98-two-ways", where, about="M98", number=number, program=number % 10_000,
                         times=number // 10_000)
    packed = course.control.rule("flow.m98_p") == "rrrrpppp"
    if split and (packed or not whole):
        return number % 10_000, number // 10_000
    return number, times


def takes_macro(course: Course, order: Order) -> bool:
    """Whether the line is a macro call (or begins or ends a modal one) that is followed here."""
    return Group.MACRO in order.codes and course.control.rule("flow.kind") in ("macros", "both")


def macro_line(course: Course, order: Order) -> None:
    """G65 calls once, G66 at every line that moves until G67."""
    code = order.codes[Group.MACRO][0].name
    if code == "G65":
        macro(course, order.values, order.of(Group.MACRO))
    else:
        course.modal = order.values if code == "G66" else None
        if course.modal is not None and course.ahead is not None:
            course.ahead.forget()


def macro(course: Course, values: dict[str, float], where: Span) -> None:
    """A subprogram with arguments in its local variables."""
    number = values.get("P", nan)
    begin = course.drawn.programs.get(round(number)) if isfinite(number) else None
    if begin is None:
        course.missing("sub-missing", where, f"O{number:g}")
        return
    arguments = {ARGUMENTS[c]: v for c, v in values.items() if c in ARGUMENTS}
    times = values.get("L", 1.0)
    call(course, begin, round(times) if isfinite(times) else 1, arguments)
