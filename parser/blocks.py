"""A program's lines to Blocks, as a dialect reads them.

The law: a line that the grammar or the dialect does not take is one finding at its column and a Block that
is `bad`; reading goes on at the next line. What a dialect lets pass with a doubt is read, and said.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from .dialect import Dialect
from .finding import Finding, Severity, finding
from .gathering import Line
from .lines import Unread, read_line
from .slips import Slip
from .source import Source
from .written import (
    Assignment,
    Block,
    Call,
    Chain,
    Comment,
    Flow,
    Name,
    Number,
    Parameter,
    Signed,
    Value,
    Word,
)

__all__ = ["Assignment", "Block", "Call", "Chain", "Comment", "Flow", "Name", "Number", "Parameter",
           "Signed", "Value", "Word", "read_blocks"]

Told = Callable[[int, int], None] | None
TOLD_EVERY = 2000  # lines by the grammar
END_OF_FILE = "\x1a"  # old systems end a text with it


def read_blocks(source: Source, dialect: Dialect, told: Told = None) -> tuple[list[Block], list[Finding]]:
    """Every line as a Block (blank ones left out), and what is wrong with how they are written. `told` hears
    from time to time how many lines are read, and of how many.

    Raises Unreadable where the source is no text.
    """
    desk = Desk(dialect, source, told)
    for number, text in enumerate(source.lines, 1):
        if not desk.line(number, text.rstrip(END_OF_FILE)):
            break
    desk.close(source)
    return desk.blocks, desk.findings


class Desk:
    """Where lines are read one after the other: what was read so far, and what was found."""

    def __init__(self, dialect: Dialect, source: Source, told: Told = None) -> None:
        self.dialect, self.source, self.told = dialect, source, told
        self.taken = 0  # lines that the grammar has read
        self.blocks: list[Block] = []
        self.findings: list[Finding] = []
        self.opened = 0  # line of the first %
        self.closed = 0  # line of the last one after it
        self.marks: list[int] = []  # lines of all of them
        self.longest = dialect["lex.max_line"]
        self.digits = len(str(dialect["lex.n_max"]))
        self.letters = frozenset(dialect["lex.letters"])
        self.alone = frozenset(dialect["lex.valueless_words"])
        self.realtime = frozenset(dialect["lex.realtime"])
        self.plain = not dialect["lex.expressions"]
        self.flow = dialect["flow.kind"]
        self.all_letters = len(self.letters) == 26

    def line(self, number: int, text: str) -> bool:
        """Reads a line; false when nothing behind it is read."""
        self.taken += 1
        if self.told is not None and not self.taken % TOLD_EVERY:
            self.told(number, self.source.count)
        try:
            line = read_line(text, self.flow)
        except Unread as unread:
            self._unread(number, unread.slip)
            return True
        if line.percent:
            return self._percent(number, text, line)
        self._take(number, text, line)
        return True

    def _take(self, number: int, text: str, line: Line) -> None:
        slips = [*self._slips(text, line)]
        refused = [slip for slip in slips if self._weight(slip) is Severity.STOP]
        if refused:
            self._unread(number, min(refused, key=lambda slip: slip.column), line.skippable)
            return
        for slip in slips:
            self._doubt(number, slip)
        if line.written:
            self.blocks.append(Block(number, line.words, line.assignments, line.comments, line.number,
                                     line.skippable, line.program, line.percent, line.flow))

    # --- what the dialect says ---

    def _slips(self, text: str, line: Line) -> Iterator[Slip]:
        yield from line.slips
        if len(text) > self.longest:
            yield Slip("line-long", self.longest + 1, len(text) + 1, f"a line of {len(text)} characters",
                       f"a line of {self.longest} at most")
        if len(line.digits) > self.digits:
            column = text.upper().index("N") + 1
            yield Slip("line-number", column, column + 1 + len(line.digits), "a line number of "
                       f"{len(line.digits)} digits", f"a line number of {self.digits} at most")
        if not self.all_letters:
            yield from self._foreign(line.words)
        if self.realtime:
            yield from self._realtime(text)
        if self.plain:
            yield from self._calculated(line)

    def _foreign(self, words: Iterable[Word]) -> Iterator[Slip]:
        for word in words:
            if word.letter not in self.letters and word.letter[0] != ",":
                yield Slip("letter-foreign", word.column, word.end, f"the letter {word.letter}",
                           f"one of {''.join(sorted(self.letters))}")

    def _realtime(self, text: str) -> Iterator[Slip]:
        for column, sign in enumerate(text, 1):
            if sign in self.realtime:
                yield Slip("realtime-character", column, column + 1,
                           "a character that acts at once", "none of those")

    def _calculated(self, line: Line) -> Iterator[Slip]:
        """Parameters and expressions, for a control that has none."""
        for item in (*line.assignments, *line.words):
            if isinstance(item, Assignment) or type(item.value) is not Number:
                yield Slip("expression-refused", item.column, item.end,
                           "a parameter or an expression", "a number")

    def _weight(self, slip: Slip) -> Severity | None:
        if slip.condition == "word-valueless" and slip.letter in self.alone:
            return None
        return self.dialect.severity(slip.condition)

    def _unread(self, number: int, slip: Slip, skippable: bool = False) -> None:
        self.findings.append(finding(
            "unread", line=number, column=slip.column, end_column=slip.end, about=slip.about,
            found=_capital(slip.found), expected=slip.expected, column_said=slip.column))
        self.blocks.append(Block(number, skippable=skippable, bad=True))

    def _doubt(self, number: int, slip: Slip) -> None:
        severity = self._weight(slip)
        if severity is not None:
            self.findings.append(finding(
                "word-doubtful", severity=severity, line=number, column=slip.column, end_column=slip.end,
                about=slip.about, what=f"{slip.found} stands where some take only {slip.expected}",
                fix=f"Write {slip.expected} at column {slip.column} of line {number}"))

    # --- percent lines ---

    def _percent(self, number: int, text: str, line: Line) -> bool:
        opening = not self.opened
        self.marks.append(number)
        if opening:
            self._leader(number)
            self.opened = number
        else:
            self.closed = number
        self._take(number, text, line)
        return opening or self.dialect["lex.percent"] == "parts"

    def _leader(self, number: int) -> None:
        """What stands before the first % is no program when none of it can be read: a tape's leader."""
        if self.blocks and all(block.bad for block in self.blocks):
            self.blocks.clear()
            self.findings.clear()
            self._doubt(number, Slip("text-before-percent", 1, 2, "text before the first %", "the program"))

    def close(self, source: Source) -> None:
        """After the last line that was read."""
        if self.opened and not self.closed and self._opens(self.opened):
            self._alone()
        elif self.closed and self.dialect["lex.percent"] == "ends":
            self._behind(source)
        elif self.closed:
            self._between()

    def _opens(self, line: int) -> bool:
        """Whether the first % stands before the program: one at the end needs no other."""
        return any(block.line > line and (block.words or block.bad) for block in self.blocks)

    def _alone(self) -> None:
        severity = self.dialect.severity("percent-alone")
        if severity is not None:
            self.findings.append(finding(
                "end-missing", severity=severity, line=self.opened, column=1, end_column=2, about="%",
                what="A % begins the program and none ends it: the end of the file may be missing",
                fix="Look whether the program's last line is there, and write % behind it"))

    def _between(self) -> None:
        """A % with lines that do something on both sides parts the file into programs."""
        lines = [block.line for block in self.blocks if block.words or block.flow]
        inner = next((n for n in self.marks if lines and lines[0] < n <= lines[-1]), 0)
        severity = self.dialect.severity("percent-inner")
        if inner and severity is not None:
            self.findings.append(finding(
                "word-doubtful", severity=severity, line=inner, column=1, end_column=2, about="%",
                what="A % parts the file into programs; some controls read no further",
                fix=f"Put the program behind line {inner} into a file of its own"))

    def _behind(self, source: Source) -> None:
        behind = next((n for n in range(self.closed + 1, source.count + 1) if source.line(n).strip()), 0)
        if behind:
            self._doubt(behind, Slip("text-after-end", 1, len(source.line(behind)) + 1,
                                     "text behind the % that ends the program", "nothing"))


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
