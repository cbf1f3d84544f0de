"""Text from a program, a job file or a command line, made so that it steers nothing.

The law: what is not printable (escape codes, marks that turn the reading direction, characters without a
width) is shown as one replacement character each, so that columns stay where they are.
"""

from __future__ import annotations

import re

STEERS = re.compile(  # a tab and a new line do no harm in a file
    "[\0-\x08\x0b-\x1f\x7f-\x9f\xad\u0600-\u0605\u061c\u06dd\u070f\u0890\u0891\u08e2\u180e\u200b-\u200f"
    "\u2028-\u202e\u2060-\u206f\ufeff\ufff9-\ufffb\U000110bd\U000110cd\U00013430-\U0001345f"
    "\U0001bca0-\U0001bca3\U0001d173-\U0001d17a\U000e0000-\U000e007f]")


def clean(text: str) -> str:
    """The text in one line, with every character that could steer a terminal made visible."""
    return "".join(c if c.isprintable() else " " if c in "\t\n\r" else "�" for c in text)


def clean_lines(text: str) -> str:
    """The same, line by line."""
    return "\n".join(clean(line) for line in text.split("\n"))


def steerless(text: str) -> str:
    """A whole file's text with nothing in it that steers; tabs and new lines stay."""
    return STEERS.sub("�", text)


def escaped(text: str) -> str:
    """JSON text whose strings hold such characters as escapes: it says the same."""
    return STEERS.sub(lambda found: "".join(f"\\u{unit:04x}" for unit in utf16(found[0])), text)


def utf16(character: str) -> list[int]:
    data = character.encode("utf-16-be")
    return [int.from_bytes(data[k:k + 2], "big") for k in range(0, len(data), 2)]
