"""What is written on a line, as data: values, words, settings, comments; a Block is one line.

The law: a Block is what is written and no more: no value is computed, no mode known. Columns count from 1;
`end` is one past the last.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Number:
    """A literal. `pointed` says whether a decimal point was written (least-increment controls care).

    NaN stands for a number that is not there, where a dialect lets a letter stand alone.
    """

    value: float
    pointed: bool = False


@dataclass(frozen=True, slots=True)
class Parameter:
    """#index; the index is any value."""

    index: Value


@dataclass(frozen=True, slots=True)
class Signed:
    """A sign before something that is no literal: legal in some families only."""

    sign: int
    value: Value


@dataclass(frozen=True, slots=True)
class Call:
    """A function of one bracketed value; ATAN has a second."""

    name: str
    argument: Value
    second: Value | None = None


@dataclass(frozen=True, slots=True)
class Chain:
    """[ value operator value operator … ]: flat, since which binds first is the dialect's.

    len(operators) == len(values) - 1; operators are upper case: "+", "**", "MOD", "AND", …
    """

    values: tuple[Value, ...]
    operators: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Name:
    """What stands within < >: the name of a parameter or of a label, lower case, no blanks."""

    text: str


Value = Number | Parameter | Signed | Call | Chain | Name


@dataclass(frozen=True, slots=True)
class Word:
    """A letter (upper case) and its value; columns count from 1, `end` is one past the last."""

    letter: str
    value: Value
    column: int
    end: int


@dataclass(frozen=True, slots=True)
class Assignment:
    """#index = value."""

    index: Value
    value: Value
    column: int
    end: int


@dataclass(frozen=True, slots=True)
class Comment:
    """What stands within ( ), or behind ; or //."""

    text: str
    column: int
    end: int

    @property
    def message(self) -> str | None:
        """What (MSG, …) shows to the operator, None for any other comment [NIST IR 6556, 3.3.4]."""
        head, comma, rest = self.text.partition(",")
        said = "".join(head.split()).upper() == "MSG" and comma
        return rest.strip() if said else None


@dataclass(frozen=True, slots=True)
class Flow:
    """A step of program flow: what the line does to the order in which lines are run.

    step: with a label (O words): SUB ENDSUB CALL RETURN IF ELSEIF ELSE ENDIF WHILE ENDWHILE DO REPEAT
    ENDREPEAT BREAK CONTINUE; without (user macros): GOTO THEN WHILE DO END · label: an O word's number or
    name · values: condition, arguments or count · target: where GOTO goes, which DO or END.
    """

    step: str
    column: int
    end: int
    label: Value | None = None
    values: tuple[Value, ...] = ()
    target: Value | None = None


@dataclass(frozen=True, slots=True)
class Block:
    """One line of a program, as written; `line` from 1.

    number: its N · skippable: it has the block-delete slash · program: the program number that stands on
    it · parts: a % stands on it · flow: its step of program flow · bad: it could not be read: what it does
    is not known, and `words` holds nothing of it.
    """

    line: int
    words: tuple[Word, ...] = ()
    assignments: tuple[Assignment, ...] = ()
    comments: tuple[Comment, ...] = ()
    number: int | None = None
    skippable: bool = False
    program: int | None = None
    parts: bool = False
    flow: Flow | None = None
    bad: bool = False

    @property
    def last(self) -> int:
        """The line on which it ends: a Stretch is a Block of many lines."""
        return self.line
