"""Whether a text is a program at all: what to say of what came by mistake.

The law: a program with mistakes is a program. Only a text of which most lines do not even begin like a
program's, or that is plainly another format, is none; the reason names the first line that shows it.
"""

from __future__ import annotations

import re
from itertools import islice

from .source import Source, Unreadable

LOOKED_AT = 2000  # lines that are not blank
ENOUGH = 0.5  # of them begin like a program's

# / N10, a word, a parameter, a comment, a percent, a label, a keyword of program flow
BEGINS = re.compile(
    r"\s*(?:%|/|\(|;|:\s*\d|\$|#\s*[\d\[<#]|[A-Z]\s*[-+]?\s*(?:[\d.]|#|\[)|O\s*<|N\s*[A-Z]\b|"
    r"(?:IF|WHILE|GOTO[FB]?|DO|END|THEN|ELSE|REPEAT|DEF|PROC)\b|(?:IF|WHILE)\s*\[|[A-Z]\s*$|"
    r"[A-Z]{1,3}\d*\s*=)", re.IGNORECASE)
CODE = re.compile(r"(?<![A-Z])[GM]\s*(?:\d|#|\[)|(?<![A-Z])[XYZ]\s*[-+]?\s*(?:[\d.]|#|\[)", re.IGNORECASE)
OTHERS = (  # how a line of another format begins, and what that format is
    (re.compile(r"(?:METRIC|INCH)\s*,|M48\s*$"), "a drill list of another format"),
    (re.compile(r"%FS[LTD]?[AI]|%MO(?:IN|MM)\*|G04 [^\n]*\*$"), "a picture for exposing a circuit board"),
    (re.compile(r"solid\b|facet normal\b"), "a model of a body's surface"),
    (re.compile(r"ISO-10303|HEADER;"), "a model of a body"),
    (re.compile(r"\s*<(?:\?xml|!DOCTYPE|html|svg)", re.IGNORECASE), "a page or a drawing"),
    (re.compile(r"\{\s*$|\[\s*$|\{\s*\""), "data, or a program for a computer"),
)


def looks_like_program(source: Source) -> str | None:
    """None for a program, good or bad; else why the text is none."""
    try:
        source.check()
    except Unreadable as bad:
        return str(bad)
    lines = ((n, source.line(n)) for n in range(1, source.count + 1))
    written = [*islice(((n, line) for n, line in lines if line.strip()), LOOKED_AT)]
    if not written:
        return f"{source.name}: there is no line with anything on it"
    return _other(source, written[:20]) or _too_little(source, written)


def _other(source: Source, written: list[tuple[int, str]]) -> str | None:
    """Why the first lines belong to another format."""
    for number, line in written:
        for begins, what in OTHERS:
            if begins.match(line) and not (what.startswith("data") and number > written[0][0]):
                return f'{source.name}: line {number} is "{_shown(line)}": this seems to be {what}'
    return None


def _too_little(source: Source, written: list[tuple[int, str]]) -> str | None:
    strange = [(number, line) for number, line in written if not BEGINS.match(line)]
    if len(strange) > (1 - ENOUGH) * len(written):
        number, line = strange[0]
        return (f"{source.name}: {len(strange)} of {len(written)} lines do not begin as a program's do; "
                f'line {number} is "{_shown(line)}"')
    if not any(CODE.search(line) for _, line in written):
        return f"{source.name}: no line has a G, M, X, Y or Z word"
    return None


def _shown(line: str) -> str:
    text = "".join(c if c.isprintable() else "?" for c in line.strip())
    return text if len(text) <= 40 else text[:39] + "…"
