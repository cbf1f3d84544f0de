"""Where each key of a TOML text stands: key paths to lines and columns.

The law: values come from tomllib and from nowhere else. This walks a text that tomllib has taken and notes
places only; a property test shows that both see the same keys. Lines and columns count from 1, in characters.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass

Path = tuple[str | int, ...]

BLANK = re.compile(r"(?:[ \t\n]|#[^\n]*)*")
SPACE = re.compile(r"[ \t]*")
STRING = re.compile(r'"""(?:[^\\]|\\.)*?"{3,5}(?!")|\'\'\'.*?\'{3,5}(?!\')'
                    r'|"(?:[^"\\\n]|\\.)*"|\'[^\'\n]*\'', re.DOTALL)
BARE_KEY = re.compile(r"[^\s.=\]\[{},\"'#]+")
SCALAR = re.compile(r"\d{4}-\d\d-\d\d \d\d:\d\d[^\s,\]}#]*|[^\s,\]}#]+")


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of text in one line: `column` to `end` - 1; both from 1."""

    line: int
    column: int
    end: int


@dataclass(frozen=True, slots=True)
class KeyPlace:
    """Where a key is named and where its value stands (its first line); a list's element names no key.

    `text` is the value as written, "" for a table with a header of its own.
    """

    key: Span
    value: Span
    text: str = ""


class Places(Mapping[Path, KeyPlace]):
    """Every key path of a text. A table's place is its header, a list's element the element."""

    def __init__(self, places: dict[Path, KeyPlace], broken_tables: tuple[Span, ...]) -> None:
        self._places = places
        self.broken_tables = broken_tables

    def __getitem__(self, path: Path) -> KeyPlace:
        return self._places[path]

    def __iter__(self) -> Iterator[Path]:
        return iter(self._places)

    def __len__(self) -> int:
        return len(self._places)

    def rename(self, path: Path, name: Path) -> None:
        """What stands at `path` is found under `name` from now on."""
        for old in [p for p in self._places if p[:len(path)] == path]:
            self._places[(*name, *old[len(path):])] = self._places.pop(old)

    def nearest(self, path: Path) -> KeyPlace | None:
        """The place of `path`, else of the closest table or list around it; None at the top."""
        while path and path not in self._places:
            path = path[:-1]
        return self._places.get(path)


def places_of(text: str) -> Places:
    """The place of each key of a TOML text that tomllib takes.

    On any other text it goes as far as it can and keeps what it saw. `broken_tables` are inline tables
    that hold a line break, which TOML 1.0 does not have.
    """
    walk = _Walk(text.replace("\r\n", "\n"))
    # what stops it is no TOML: tomllib says so too, and its message is the one that counts
    with suppress(AttributeError, IndexError, RecursionError, tomllib.TOMLDecodeError):
        walk.document()
    return Places(walk.places, tuple(walk.broken))


class _Walk:
    """A cursor over a text that notes places as it goes."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.places: dict[Path, KeyPlace] = {}
        self.broken: list[Span] = []
        self.counts: dict[Path, int] = {}
        self.starts = [0, *(m.end() for m in re.finditer("\n", text))]

    def document(self) -> None:
        table: Path = ()
        while self.skip(BLANK) < len(self.text):
            table = self.header() if self.text[self.at] == "[" else self.pair(table)

    def header(self) -> Path:
        """[a.b] or [[a.b]]: the table that the next pairs belong to."""
        many = self.text.startswith("[[", self.at)
        self.at += 2 if many else 1
        path: Path = ()
        for part, span in (parts := self.key()):
            path = self.latest((*path, part))
            self.places.setdefault(path, KeyPlace(span, span))
        if many:
            path = self.another(path, parts[-1][1])
        elif path not in self.counts:
            self.places[path] = KeyPlace(parts[-1][1], parts[-1][1])
        self.at += 2 if many else 1
        return path

    def latest(self, path: Path) -> Path:
        """The table that a name in a header means: of an array of tables its last one."""
        return (*path, self.counts[path] - 1) if path in self.counts else path

    def another(self, path: Path, span: Span) -> Path:
        """One more table in an array of tables; `path` names the array or its last table."""
        array = path[:-1] if path[:-1] in self.counts and isinstance(path[-1], int) else path
        self.counts[array] = self.counts.get(array, 0) + 1
        element = (*array, self.counts[array] - 1)
        self.places[element] = KeyPlace(span, span)
        return element

    def pair(self, table: Path) -> Path:
        """key = value within a table; returns the table."""
        path = table
        for part, span in self.key():
            path = (*path, part)
            self.places.setdefault(path, KeyPlace(span, span))
        self.expect("=")
        value, text = self.value(path)
        self.places[path] = KeyPlace(self.places[path].key, value, text)
        return table

    def key(self) -> list[tuple[str, Span]]:
        """A dotted key: each part and where it stands. The cursor ends behind it."""
        parts = []
        while True:
            start = self.skip(SPACE)
            quoted = self.text[start] in "\"'"
            end = (STRING if quoted else BARE_KEY).match(self.text, start).end()  # type: ignore[union-attr]
            name = unquoted(self.text[start:end]) if quoted else self.text[start:end]
            parts.append((name, self.span(start, end)))
            self.at = end
            if self.text[self.skip(SPACE)] != ".":
                return parts
            self.at += 1

    def value(self, path: Path) -> tuple[Span, str]:
        """Any value: notes what it holds, returns where it stands and its text."""
        start = self.skip(SPACE)
        first = self.text[start]
        if first == "[":
            self.array(path)
        elif first == "{":
            self.inline(path)
        else:
            scalar = STRING if first in "\"'" else SCALAR
            self.at = scalar.match(self.text, start).end()  # type: ignore[union-attr]
        return self.span(start, self.at), self.text[start:self.at]

    def array(self, path: Path) -> None:
        self.at += 1
        count = 0
        while self.text[self.skip(BLANK)] != "]":
            element = (*path, count)
            span, text = self.value(element)
            self.places[element] = KeyPlace(span, span, text)
            self.comma()
            count += 1
        self.at += 1

    def inline(self, path: Path) -> None:
        start = self.at
        self.at += 1
        breaks = self.breaks()
        while self.text[self.at] != "}":
            self.pair(path)
            breaks += self.breaks()
            self.comma()
            breaks += self.breaks()
        self.at += 1
        if breaks:
            self.broken.append(self.span(start, start + 1))

    def breaks(self) -> int:
        """Skips what is blank; how many lines ended in it."""
        start = self.at
        return self.text.count("\n", start, self.skip(BLANK))

    def comma(self) -> None:
        """Skips a comma, if one comes next."""
        if self.text[self.skip(BLANK)] == ",":
            self.at += 1

    def expect(self, sign: str) -> None:
        if self.text[self.skip(SPACE)] != sign:
            raise IndexError(self.at)
        self.at += 1

    def skip(self, pattern: re.Pattern[str]) -> int:
        self.at = pattern.match(self.text, self.at).end()  # type: ignore[union-attr]
        return self.at

    def line_of(self, at: int) -> int:
        return bisect_right(self.starts, at)

    def span(self, start: int, end: int) -> Span:
        """The stretch from `start` to `end`, or to its first line's end."""
        line = self.line_of(start)
        begin = self.starts[line - 1]
        stop = self.starts[line] - 1 if line < len(self.starts) else len(self.text)
        return Span(line, start - begin + 1, min(end, stop) - begin + 1)


def unquoted(text: str) -> str:
    """The name that a quoted key stands for, as tomllib reads it."""
    return tomllib.loads(f"key = {text}")["key"]
