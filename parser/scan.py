"""The quick lane's reading: bytes to Stretches of plain lines, and Blocks by the grammar for all others.

The law: the lines, words and findings are those that `read_blocks` gives, bit for bit; what the scanner is
not certain of, the grammar reads. A text that is not one byte a character, and a dialect that refuses plain
words, have no quick lane.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from itertools import accumulate, chain, pairwise
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from .blocks import END_OF_FILE, Desk, Told, read_blocks
from .dialect import Dialect
from .finding import Finding
from .kernels.lines import BLANK, DIGIT, END, LABEL, NOT_PLAIN, POINT, SIGN, scan_lines
from .source import LONGEST_LINE, Source
from .stretch import Plain, Stretch, line_end
from .written import Block, Number, Word

LETTERS = "GXYZFSIJR"  # of plain lines
PIECE = 1 << 20  # bytes scanned at a time
FEW = 4  # rows that are not worth a Stretch
MARK = b"\xef\xbb\xbf"  # of UTF-8


class Scanned(NamedTuple):
    """A piece of the text: its plain rows and those that are none, its lines, and the longest one's bytes."""

    table: Plain
    lines: int
    longest: int


def read_stretches(source: Source, dialect: Dialect,
                   told: Told = None) -> tuple[list[Block], list[Finding]]:
    """What `read_blocks` gives, with plain lines that follow each other as one Stretch. Raises Unreadable."""
    desk = Desk(dialect, source, told)
    if source.encoding.startswith("utf-16") or not desk.letters.issuperset(LETTERS + "N"):
        return read_blocks(source, dialect, told)
    pieces = scan(source.data, desk.longest, desk.digits, dialect["lex.realtime"])
    if max(piece.longest for piece in pieces) > LONGEST_LINE:
        source.check()  # raises, unless they are fewer characters than bytes
    for item in chain.from_iterable(_items(piece.table, source.encoding) for piece in pieces):
        if isinstance(item, Block):
            desk.blocks.append(item)
        elif not desk.line(item[0], item[1].rstrip(END_OF_FILE)):
            break
    desk.close(source)
    return _addressed(desk.blocks), desk.findings


def _items(table: Plain, encoding: str) -> Iterator[Block | tuple[int, str]]:
    """The plain rows of a table as Blocks, and between them (line, text) of what the grammar must read."""
    row, rows = 0, len(table.line)
    for other in (*np.flatnonzero(table.label == NOT_PLAIN).tolist(), rows):
        while row < other and (other - row < FEW or table.first[row] == table.first[row + 1]):
            yield table.block(row)
            row += 1
        if row < other:
            yield table.stretch(row, other)
        if other < rows:
            yield int(table.line[other]), table.bytes_of(other).decode(encoding)
        row = other + 1


def _addressed(blocks: list[Block]) -> list[Block]:
    """Where a program jumps to line numbers, each of its lines stands for itself."""
    if not any(_jumps(block) for block in blocks):
        return blocks
    return [*chain.from_iterable(b.blocks() if isinstance(b, Stretch) else (b,) for b in blocks)]


def _jumps(block: Block) -> bool:
    """Whether a line leads to a line number (GOTO, M97, M98 with Q or without P, M99 with P), or lets every
    line that moves call a macro (G66)."""
    if isinstance(block, Stretch):
        return False
    if block.flow is not None and block.flow.step == "GOTO":
        return True
    letters, codes = {word.letter for word in block.words}, {*map(_code, block.words)}
    local = "M98" in codes and ("Q" in letters or "P" not in letters)
    return local or ("M99" in codes and "P" in letters) or bool(codes & {"G66", "M97", "calculated"})


def _code(word: Word) -> str:
    """The code that a word is, "" for none; "calculated" where it hangs on an expression."""
    if word.letter not in "GM":
        return ""
    return f"{word.letter}{word.value.value:.0f}" if isinstance(word.value, Number) else "calculated"


# --- scanning ---

def scan(data: bytes, longest: int, digits: int, strange: str = "") -> list[Scanned]:
    """The whole text, in pieces; on as many threads as there are cores.

    Lines of more than `longest` bytes, labels of more than `digits` and the characters of `strange` are left
    to the grammar.
    """
    cuts = _cuts(data)
    threads = min(os.cpu_count() or 1, len(cuts) - 1)
    shares = [cuts[len(cuts) * n // threads - (n > 0):len(cuts) * (n + 1) // threads] for n in range(threads)]
    kinds, longest = _kinds(strange), min(longest, LONGEST_LINE)
    with ThreadPoolExecutor(threads) as pool:
        done = pool.map(lambda share: _scan_share(data, share, kinds, longest, digits), shares)
        pieces = [*chain.from_iterable(done)]
    for piece, before in zip(pieces, accumulate((p.lines for p in pieces), initial=0), strict=False):
        np.add(piece.table.line, before, out=piece.table.line)
    return pieces


def _cuts(data: bytes) -> list[int]:
    """Where the pieces begin, and the end: each behind a line end."""
    cuts = [len(MARK) if data.startswith(MARK) else 0]
    while cuts[-1] < len(data):
        end = line_end(data, min(cuts[-1] + PIECE, len(data)))
        end += 2 if data[end:end + 2] == b"\r\n" else 1
        cuts.append(min(end, len(data)))
    return cuts if len(cuts) > 1 else [*cuts, cuts[0]]


def _scan_share(data: bytes, cuts: Sequence[int], kinds: NDArray[np.uint8], longest: int,
                digits: int) -> list[Scanned]:
    """The pieces between the cuts, scanned one after the other into the same scratch arrays."""
    room = max((end - begin for begin, end in pairwise(cuts)), default=0) // 2 + 2
    kinds_of = "i4", "i4", "i8", "i8", "u1", "f8"  # as Plain has them
    columns: list[NDArray[Any]] = [np.empty(room, kind) for kind in kinds_of]
    text = np.frombuffer(data, np.uint8)
    pieces = []
    for begin, end in pairwise(cuts):
        rows, words, lines, most = scan_lines(text, begin, end, kinds, longest, digits, *columns)
        sizes = rows, rows, rows, rows + 1, words, words
        table = Plain(data, *(column[:size].copy() for column, size in zip(columns, sizes, strict=True)))
        pieces.append(Scanned(table, lines, most))
    return pieces


def _kinds(strange: str) -> NDArray[np.uint8]:
    """What each byte is to the scanner."""
    kinds = np.zeros(256, np.uint8)
    for signs, kind in ((" \t", BLANK), ("\r\n", END), ("0123456789", DIGIT), (".", POINT), ("+-", SIGN),
                        ("Nn", LABEL)):
        kinds[[ord(sign) for sign in signs]] = kind
    for letter in LETTERS:
        kinds[[ord(letter), ord(letter.lower())]] = ord(letter)
    kinds[[ord(sign) for sign in strange if ord(sign) < 256 and sign not in "\r\n"]] = 0
    return kinds
