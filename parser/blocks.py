"""A line to its Block: words, settings, comments, expressions, from the grammar.

The law: a Block is what is written and no more: no value is computed, no mode known. A line that
the grammar does not take is a finding at its column, and reading goes on at the next line.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Number:
    """A literal. `pointed` says whether a decimal point was written (least-increment controls care)."""

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


Value = Number | Parameter | Signed | Call | Chain


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
    text: str
    column: int
    end: int


@dataclass(frozen=True, slots=True)
class Block:
    """One line of a program, as written. `skippable` is the block-delete slash; `line` from 1."""

    line: int
    words: tuple[Word, ...] = ()
    assignments: tuple[Assignment, ...] = ()
    comments: tuple[Comment, ...] = ()
    number: int | None = None
    skippable: bool = False
