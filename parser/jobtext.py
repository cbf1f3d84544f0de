"""The text of a job file to its tree of values; what is no text or no TOML is told where it goes wrong.

The law: tomllib reads; this only puts its complaint into a machinist's words, with the line and a caret.
"""

from __future__ import annotations

import re
import tomllib
from typing import Any

from .mistakes import JobError, Mistake
from .source import Source, Unreadable
from .toml_places import places_of

PLACE = re.compile(r"\(at line (\d+), column (\d+)\)")

# what people write, and what it should have been: looked for in the line that TOML stumbles over
SLIPS = (
    (re.compile(r"=\s*[+-]?\d+,\d+\s*(#.*)?$"), "write a decimal point, not a comma: 25.4"),
    (re.compile(r"=\s*[+-]?\d[\d.]*\s*(mm|cm|m|in|inch|\"|')"),
     "write the number alone: units = \"mm\" (or \"inch\") says what it is in"),
    (re.compile(r"=\s*[+-]?(\.\d|\d+\.(?!\d)|0\d)"),
     "write a digit on both sides of the point and no zero in front: 0.5, 18.0"),
    (re.compile(r"=\s*(True|False|yes|no|on|off)\b", re.IGNORECASE), "write true or false, in small letters"),
    (re.compile(r"=\s*[A-Za-z_]"), "put a text in quotes: \"MDF\""),
    (re.compile(r"^\s*\w+\s*:"), "write key = value, with an equals sign"),
    (re.compile(r"^\s*\w[\w ]* \w[^=]*="), "a key with blanks in it stands in quotes"),
    (re.compile(r"\\"), "in \"…\" a backslash starts a sign: write paths with / or in '…'"),
)
TWICE = re.compile(r"Cannot (overwrite|declare|mutate|redefine)|already|twice", re.IGNORECASE)


def toml_of(source: Source) -> dict[str, Any]:
    """The values of a job file. Raises JobError with the one reason why it cannot be read."""
    try:
        _only_utf(source)
        text = "\n".join(source.lines) + "\n"
        return tomllib.loads(text)
    except Unreadable as bad:
        raise JobError([Mistake(source.name, 0, 0, "", str(bad).removeprefix(f"{source.name}: "))]) from None
    except RecursionError:
        raise JobError([Mistake(source.name, 0, 0, "", "lists or tables are nested too deeply")]) from None
    except ValueError as bad:
        raise JobError([_not_toml(source, str(bad))]) from None


def _only_utf(source: Source) -> None:
    """A TOML text is UTF-8, or says with its first bytes that it is UTF-16."""
    if source.data.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\0" in source.data:
        return
    try:
        source.data.decode("utf-8")
    except UnicodeDecodeError as bad:
        line = source.data.count(b"\n", 0, bad.start) + 1
        raise Unreadable(f"{source.name}: line {line}: byte {bad.start + 1} of the file is not UTF-8; "
                         f"save the file as UTF-8") from None


def _not_toml(source: Source, complaint: str) -> Mistake:
    place = PLACE.search(complaint)
    said = PLACE.sub("", complaint).removesuffix("(at end of document)").strip()
    line, column = map(int, place.groups()) if place else (len(source.lines), 1)
    for broken in places_of(source.text).broken_tables:
        if broken.line <= line <= broken.line + 1:
            return _mistake(source, broken.line, broken.column, "a line break inside { … }",
                            "keep an inline table on one line, or write it as a [table] of its own")
    if TWICE.search(said):
        return _mistake(source, line, column, f"a key or table stands here a second time ({said})",
                        "keep one of the two")
    return _mistake(source, line, column, f"this is not TOML: {said}", _slip(source.line(line)))


def _slip(text: str) -> str:
    return next((hint for pattern, hint in SLIPS if pattern.search(text)), "")


def _mistake(source: Source, line: int, column: int, found: str, accepted: str) -> Mistake:
    column = min(column, len(source.line(line)) + 1)
    return Mistake(source.name, line, column, "", found, accepted, source.quote(line, column, column + 1))
