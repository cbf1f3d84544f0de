"""What stands on a line and not every control takes, or none: found, and what would be accepted.

The law: a Slip says its place and both halves in plain words; how it weighs is the dialect's
(`conditions.…`), except "unread", which no dialect takes.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Protocol


@dataclass(frozen=True, slots=True)
class Slip:
    """Something on a line that not every control takes: its condition, its place, what would be accepted."""

    condition: str
    column: int
    end: int
    found: str
    expected: str
    letter: str = ""

    @property
    def about(self) -> str:
        """What repeats of it are folded by: text of the program's own is all one."""
        return "text" if self.found.startswith('"') and len(self.found) > 3 else self.found


class Accepts(Protocol):
    def accepts(self, text: str) -> frozenset[str]: ...


ITEM = "a letter with its number, a comment, or the end of the line"
# the first row whose terminals may all stand at the place says what was expected there
EXPECTED = (
    ({"EQUAL"}, 'an "=" and a value'),
    ({"CLOSE"}, 'an operator or "]"'),
    ({"NUMBER", "$END"}, "a number"),
    ({"NUMBER"}, "a value"),
    ({"LSQB"}, 'a "["'),
    ({"$END"}, ITEM),
)
ZERO_FOR_O = re.compile(r"[ \t]*(0[0-9]{3,5})[ \t]*(?:\(|$)")
COMMAND = re.compile(r"[ \t]*(?:\$.*|[?!~\x18][ \t]*$)")
COMMANDS = {  # how lines begin that speak to a small control, not to its program
    "$H": "the homing", "$J": "a jog by hand", "$X": "an unlocking", "$C": "the checking mode",
    "$N": "a line that runs at each start", "$R": "a reset of its settings", "$": "a setting or question",
    "?": "a question for its state", "!": "a hold that acts at once,", "~": "a go-on that acts at once,",
    "\x18": "a reset that acts at once,"}
SPECIAL = {
    ",": "a decimal comma", ".": "a second decimal point", "$": "a setting or command of the control itself",
    "?": "a question mark", "=": 'an "="', "(": "a comment that is not closed", ")": 'a ")" with no "("',
    "{": "a brace", "}": "a brace",
}


def slip_at(text: str, at: int, grammar: Accepts) -> Slip:
    """What no control reads at `text[at]`, and what it would read there."""
    if command := COMMAND.match(text):
        return Slip("unread", 1, len(text.rstrip()) + 1, _commanded(command[0]), "a line of a program")
    if number := ZERO_FOR_O.match(text):
        found = f'"{number[1]}", a program number with a zero typed for its letter,'
        return Slip("unread", number.start(1) + 1, number.end(1) + 1, found, f"O{number[1][1:]}")
    accepted = grammar.accepts(text[:at])
    expected = next((words for terminals, words in EXPECTED if terminals <= accepted), "the end of the line")
    end, found = _found(text, at)
    if expected == "a number":
        expected = f"the number of {text[:at].rstrip()[-1].upper()}"
    return Slip("unread", at + 1, end + 1, found, expected)


def _commanded(sign: str) -> str:
    """What a command of the control itself does, which has no place in a file."""
    name = next((does for begins, does in COMMANDS.items() if sign.upper().startswith(begins)), "a command")
    return f"{name} of the control itself ({sign.strip()[:20]})"


def _found(text: str, at: int) -> tuple[int, str]:
    """Where the thing at `at` ends, and what it is called."""
    if not text[at:].strip():
        return at + 1, "the end of the line"
    run = re.match(r"[A-Za-z_]{2,}|[0-9.]+|.", text[at:])
    assert run is not None  # something stands there
    written = run[0]
    if written[0] == "." and text[:at].rstrip()[-1:].isdigit():
        return at + len(written), SPECIAL["."]
    if re.match(r",[ \t]*[RCArca][ \t]*[-+.0-9]", text[at:]):
        return at + 2, "a corner's word behind a comma"
    name = SPECIAL.get(written, f'"{written}"') if written != "." else '"."'
    if not written.isprintable():
        name = f"a control character (number {ord(written[0])})"
    return at + len(written), name
