"""Rows of a report laid out for a width: plain text for a pipe, the same text with colours for a terminal.

The law: what is said does not depend on where it is shown. A row is a label and a text; here it is
wrapped, cut and coloured, and nothing is added or left out. Text that came from a program or a job
file is shown as text: what is not printable is replaced before it gets here or here at the latest.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from rich.cells import cell_len, chop_cells
from rich.console import Console
from rich.text import Text

from .plain_text import clean as clean

LABEL = 7  # columns of the label, its gap included
GAP = "   "  # before a row that stands beside another

Line = list[tuple[str, str, str]]  # label or its indent, text, tone

# No tone is green and none is red: words carry the meaning, tone only draws the eye. "clear" is plain
# bold, because a clear verdict is no permission.
TONES = {"stop": "bold black on dark_orange", "caution": "bold black on light_goldenrod1",
         "clear": "bold reverse", "label": "bold", "quiet": "dim", "": ""}


@dataclass(frozen=True, slots=True)
class Row:
    """A label (may be empty), its text, and a tone for the label; `one_line` cuts instead of wrapping;
    `beside` stands on the line of the row before, where that took one line and leaves room for all of it."""

    label: str = ""
    text: str = ""
    tone: str = "label"
    one_line: bool = False
    beside: bool = False


def plain(rows: Iterable[Row], width: int) -> str:
    """The rows as text without a single escape code, no line wider than `width` columns."""
    return "".join("".join(label + text for label, text, _ in line).rstrip() + "\n"
                   for line in lines(rows, width))


def show(rows: Iterable[Row], console: Console) -> None:
    """The same rows on a terminal, with tones."""
    for line in lines(rows, screen_width(console)):
        shown = Text()
        for label, text, tone in line:
            word = label.strip()
            before, _, after = label.partition(word) if word else (label, "", "")
            shown.append_text(Text.assemble(before, (word, TONES[tone]), after, text))
        shown.rstrip()
        console.print(shown, soft_wrap=True, highlight=False)


def screen_width(console: Console) -> int:
    """Columns to lay out for: lines longer than 120 are tiring to read, under 50 nothing fits."""
    return min(max(console.width, 50), 120)


def lines(rows: Iterable[Row], width: int) -> Iterator[Line]:
    """Every line as its parts: (label or its indent, text, tone)."""
    line: Line | None = None
    short = False  # whether the row before took one line
    for row in rows:
        whole = clean(row.text)
        label = f"{GAP}{row.label.strip()} " if row.label else GAP
        if line and short and row.beside and taken(line) + cell_len(label) + cell_len(whole) <= width:
            line = [*line, (label, whole, row.tone)]
            continue
        if line is not None:
            yield line
        *before, last = laid(row, width)
        short = not before
        yield from ([part] for part in before)
        line = [last]
    if line is not None:
        yield line


def taken(line: Line) -> int:
    """Columns that a line's parts take."""
    return cell_len("".join(label + text for label, text, _ in line).rstrip())


def laid(row: Row, width: int) -> Iterator[tuple[str, str, str]]:
    """One row in as many lines as it needs."""
    label = row.label.ljust(LABEL) if len(row.label) < LABEL else row.label + "  "
    room = width - (len(label) if len(label) == LABEL else LABEL)
    first = width - len(label)
    parts = [cut(clean(row.text), first)] if row.one_line else wrap(clean(row.text), first, room)
    for number, part in enumerate(parts or [""]):
        yield (label if number == 0 and row.label else " " * LABEL if part else "", part, row.tone)


def wrap(text: str, first: int, room: int) -> list[str]:
    """The words in lines of at most `room` columns (the first: `first`); a longer word is broken."""
    lines, line = [], ""
    for word in words(text, min(first, room)):
        limit = room if lines else first
        if line and cell_len(line) + 1 + cell_len(word) > limit:
            lines.append(line)
            line = word
        else:
            line = f"{line} {word}" if line else word
    return [*lines, line] if line else lines


def words(text: str, longest: int) -> Iterator[str]:
    """The text's words, none wider than `longest`."""
    for word in text.split():
        yield from chop_cells(word, longest) if cell_len(word) > longest else (word,)


def cut(text: str, room: int) -> str:
    """The text in one line, its end replaced by "…" where it is too long."""
    if cell_len(text) <= room:
        return text
    return next(iter(chop_cells(text, max(1, room - 1))), "").rstrip() + "…"
