"""Bytes to lines: encodings, line ends and limits; a place in a text and how it is quoted.

The law: a Source never changes, its lines count from 1 as an editor counts them, and columns count
from 1 in characters.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

LONGEST_LINE = 1_000_000  # characters; a longer one is no program
LONG = 1_000_000  # bytes: the lines of a longer text are not all made into text


class Unreadable(Exception):
    """The text cannot be used at all; the message says what was found, where and what would be accepted."""


@dataclass(frozen=True)
class Source:
    """A text that a person wrote for the machine: `name` as the person gave it, and its bytes."""

    name: str
    data: bytes

    @cached_property
    def sha256(self) -> str:
        return hashlib.sha256(self.data).hexdigest()

    @cached_property
    def encoding(self) -> str:
        """How the bytes are to be read; raises Unreadable for what is no text."""
        return encoding_of(self.name, self.data)

    @cached_property
    def text(self) -> str:
        """The bytes as text: UTF-8 (with or without mark), UTF-16 with mark, else Latin-1.

        Raises Unreadable for what is no text: zero bytes, or nothing at all.
        """
        return self.data.decode(self.encoding)

    @cached_property
    def lines(self) -> tuple[str, ...]:
        """Without their ends (CR, LF or both); line n is lines[n - 1]. Raises Unreadable for one too long."""
        lines = self.text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
        if lines and not lines[-1]:
            lines.pop()
        for number, line in enumerate(lines, 1):
            if len(line) > LONGEST_LINE:
                raise Unreadable(f"{self.name}: line {number} is {len(line):,} characters long; "
                                 f"a program's lines are shorter than {LONGEST_LINE:,}")
        return tuple(lines)

    @cached_property
    def laid(self) -> Laid | None:
        """Where the lines of a long text lie; None for a short one, or one that is not one byte a sign."""
        if len(self.data) < LONG or self.encoding.startswith("utf-16"):
            return None
        return Laid.of(self.data.removeprefix(b"\xef\xbb\xbf"), self.encoding)

    @property
    def count(self) -> int:
        """How many lines there are."""
        return len(self.lines) if self.laid is None else self.laid.count

    def line(self, number: int) -> str:
        """The text of a line, "" outside the text."""
        return next(iter(self.between(number, number)), "")

    def between(self, first: int, last: int) -> list[str]:
        """Lines `first` to `last`, as far as there are any; a long text is not taken apart for it."""
        first, last = max(first, 1), min(last, self.count)
        if self.laid is None:
            return [*self.lines[first - 1:max(last, 0)]]
        return [self.laid.line(number) for number in range(first, last + 1)]

    def check(self) -> None:
        """Raises Unreadable where the text is none, or a line too long."""
        if self.laid is None or self.laid.longest() > LONGEST_LINE:
            _ = self.lines

    def quote(self, number: int, column: int = 0, end: int = 0, width: int = 76) -> str:
        """The line with a caret under columns `column` to `end` - 1; long lines are cut around it."""
        text = self.line(number).replace("\t", " ")
        start = max(0, min(column - width // 2, len(text) - width))
        shown = text[start:start + width]
        if not column:
            return shown
        mark = max(0, column - 1 - start)
        return f"{shown}\n{' ' * mark}{'^' * max(1, min(end - column, width - mark))}"


@dataclass(frozen=True)
class Laid:
    """A text whose lines end in LF, and where these stand: (n,) of n lines."""

    data: bytes
    encoding: str
    ends: NDArray[np.intp]

    @classmethod
    def of(cls, data: bytes, encoding: str) -> Laid:
        if b"\r" in data:
            data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        ends = np.flatnonzero(np.frombuffer(data, np.uint8) == ord("\n"))
        return cls(data, encoding, ends if data.endswith(b"\n") else np.append(ends, len(data)))

    @property
    def count(self) -> int:
        return len(self.ends)

    def line(self, number: int) -> str:
        begin = int(self.ends[number - 2]) + 1 if number > 1 else 0
        return self.data[begin:int(self.ends[number - 1])].decode(self.encoding.removesuffix("-sig"))

    def longest(self) -> int:
        """Bytes of the longest line."""
        return int(np.diff(self.ends, prepend=-1).max(initial=1)) - 1


def decode(name: str, data: bytes) -> str:
    """Bytes to text; raises Unreadable where they are none."""
    return data.decode(encoding_of(name, data))


def encoding_of(name: str, data: bytes) -> str:
    """The encoding that reads all of the bytes; raises Unreadable where they are no text."""
    if not data:
        raise Unreadable(f"{name}: the file is empty")
    for mark, encoding in ((b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"), (b"\xef\xbb\xbf", "utf-8-sig")):
        if data.startswith(mark):
            try:
                data.decode(encoding)
                return encoding
            except UnicodeDecodeError as bad:
                raise Unreadable(f"{name}: byte {bad.start + 1} is not {encoding}, "
                                 f"though the file's first bytes say so") from None
    if b"\0" in data:
        at = data.index(b"\0")
        raise Unreadable(f"{name}: byte {at + 1} is zero: this is a binary file, not a text")
    if data.isascii():
        return "utf-8"
    try:
        data.decode("utf-8")
        return "utf-8"
    except UnicodeDecodeError:
        return "latin-1"
