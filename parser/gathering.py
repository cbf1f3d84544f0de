"""The parts of a line gathered: which N, O and % stand where they may, and what they mean there.

The law: a line number stands first, an O with a whole number names the program, a checksum is right.
Everything else on a line may stand in any order, and keeps it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import reduce
from operator import xor
from typing import Any

from .slips import ITEM, Slip
from .written import Assignment, Comment, Flow, Number, Word


@dataclass(frozen=True, slots=True)
class Line:
    """What stands on a line. `digits` are those of its N as written; `percent`: a % stands on it."""

    words: tuple[Word, ...] = ()
    assignments: tuple[Assignment, ...] = ()
    comments: tuple[Comment, ...] = ()
    number: int | None = None
    digits: str = ""
    skippable: bool = False
    program: int | None = None
    percent: bool = False
    flow: Flow | None = None
    slips: tuple[Slip, ...] = ()

    @property
    def written(self) -> bool:
        return bool(self.words or self.assignments or self.comments or self.percent
                    or self.number is not None or self.program is not None or self.flow)


@dataclass(frozen=True, slots=True)
class Label:
    digits: str
    column: int
    end: int
    slash: bool


@dataclass(frozen=True, slots=True)
class Mark:
    """A percent sign, a block-delete slash, a checksum or a program number, as far as a Line needs it."""

    kind: str
    value: int | None
    column: int
    end: int


def gather(parts: list[Any], slips: list[Slip], text: str) -> Line:
    """A Line of what the grammar found on it, in order; `slips` are those found on the way."""
    slips = [*slips, *_checksum(parts, text)]
    labels = [part for part in parts if isinstance(part, Label)]
    slips += _label_slips(labels, parts)
    words, program = _programs(_zeros(parts, slips, text), parts, slips)
    slips += [_valueless(word, text) for word in words if _empty(word)]
    percent = _percent(parts, slips)
    digits = next((label.digits for label in labels if label.digits.isdigit()), "")
    return Line(
        words=tuple(words), assignments=tuple(p for p in parts if isinstance(p, Assignment)),
        comments=tuple(p for p in parts if isinstance(p, Comment)), number=int(digits) if digits else None,
        digits=digits, skippable=_marked(parts, "skip") or any(label.slash for label in labels),
        program=program, percent=percent, flow=_flow(parts, slips), slips=tuple(slips))


def _marked(parts: Iterable[Any], kind: str) -> bool:
    return any(isinstance(part, Mark) and part.kind == kind for part in parts)


def _checksum(parts: list[Any], text: str) -> Iterable[Slip]:
    """N12 G1 X5*57: the value is all characters before the * in exclusive or."""
    if not parts or getattr(parts[-1], "type", "") != "CHECKSUM":
        return
    column, written = text.rindex("*") + 1, int(parts[-1][1:])
    yield Slip("checksum", column, len(text) + 1, "a checksum", "the end of the line")
    right = reduce(xor, text[:column - 1].encode(), 0)
    if right != written:
        yield Slip("checksum-wrong", column, len(text) + 1, f"the checksum {written}",
                   f"{right}, which fits the line")


def _label_slips(labels: list[Label], parts: list[Any]) -> Iterable[Slip]:
    first = next((p for p in parts if not (isinstance(p, Mark) and p.kind in ("skip", "percent"))), None)
    for label in labels:
        if label.digits and not label.digits.isdigit():
            yield Slip("line-number", label.column, label.end, "a line number with a point", "a whole number")
        if label is not labels[0]:
            yield Slip("line-number-twice", label.column, label.end, "a second line number", "a single one")
        elif label is not first:
            yield Slip("line-number", label.column, label.end, "a line number behind other words",
                       "a line number in the first place")


def _zeros(parts: list[Any], slips: list[Slip], text: str) -> list[Word]:
    """GO1, ZO, X1O and Y12.O5: a letter O glued to a letter or into a number is a typed zero."""
    words: list[Word] = []
    for part in parts:
        if not isinstance(part, Word):
            continue
        before = words[-1] if words else None
        if part.letter == "O" and before and before.end == part.column and _empty(before) \
                and type(part.value) is Number:
            slips.append(Slip("letter-o-for-zero", part.column, part.column + 1,
                              "a letter O, typed for a zero,", "the digit 0"))
            value = Number(0.0) if _empty(part) else part.value
            words[-1] = Word(before.letter, value, before.column, part.end)
        elif part.letter == "O" and before and before.end == part.column and before.letter not in "GM" \
                and (whole := _with_zero(text[before.column:part.end - 1])):
            slips.append(Slip("letter-o-for-zero", part.column, part.column + 1,
                              "a letter O, typed for a zero,", "the digit 0"))
            words[-1] = Word(before.letter, whole, before.column, part.end)
        else:
            words.append(part)
    return words


def _with_zero(written: str) -> Number | None:
    """A number with a letter O in it, as it was meant; None where that is none."""
    digits = re.sub("[oO]", "0", written)
    return Number(float(digits), "." in digits) if re.fullmatch(r"[-+]?(?:\d+\.?\d*|\.\d+)", digits) else None


def _empty(word: Word) -> bool:
    return type(word.value) is Number and word.value.value != word.value.value


def _valueless(word: Word, text: str) -> Slip:
    run = re.match("[A-Za-z_]*", text[word.column - 1:])
    if run and len(run[0]) > 1:
        end = word.column + len(run[0])
        return Slip("word-valueless", word.column, end, f'"{run[0]}"', ITEM, word.letter)
    return Slip("word-valueless", word.column, word.end, f"{word.letter} with no number",
                f"{word.letter} with its number", word.letter)


def _programs(words: list[Word], parts: list[Any], slips: list[Slip]) -> tuple[list[Word], int | None]:
    """O1234 and :1234 name the program that begins here."""
    named = [w for w in words if w.letter == "O" and type(w.value) is Number and w.value.value.is_integer()]
    left = [w for w in words if w not in named]
    colons = [p for p in parts if isinstance(p, Mark) and p.kind == "program"]
    marks = [(mark.column, mark.end) for mark in (*named, *colons)]
    for column, end in marks:
        alone = len(marks) == 1 and not left and not any(isinstance(p, Assignment) for p in parts)
        slips.append(Slip(*("program-number", column, end, "a program number", "no such number") if alone else
                          ("program-number-glued", column, end, "a program number beside other words",
                           "a program number on a line of its own")))
    numbers = [*(c.value for c in colons), *(int(w.value.value) for w in named if type(w.value) is Number)]
    return left, numbers[0] if numbers else None


def _flow(parts: list[Any], slips: list[Slip]) -> Flow | None:
    steps = [part for part in parts if isinstance(part, Flow)]
    for step in steps[1:]:
        slips.append(Slip("flow-unbalanced", step.column, step.end, "a second step of program flow",
                          "a line of its own for it"))
    return steps[0] if steps else None


def _percent(parts: list[Any], slips: list[Slip]) -> bool:
    marks = [p for p in parts if isinstance(p, Mark) and p.kind == "percent"]
    if marks and (len(parts) > 1 or marks[0].value is not None):
        slips.append(Slip("percent-glued", marks[0].column, marks[0].end,
                          "a % with other things", "a % alone"))
    return bool(marks)
