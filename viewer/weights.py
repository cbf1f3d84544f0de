"""How much a finding weighs, in a word and in a tone; how often it is met.

The law: the same words on every screen, and never "safe".
"""

from __future__ import annotations

from ..parser.finding import Finding, Severity

WORDS = {Severity.STOP: "stop", Severity.CAUTION: "look", Severity.NOTE: "note"}
TONES = {Severity.STOP: "stop", Severity.CAUTION: "caution", Severity.NOTE: "quiet"}


def repeats(found: Finding) -> str:
    """ " (3 times, to line 120)" for a folded finding; one that says which it means has counted them."""
    if found.count < 2:
        return ""
    last = f"to line {found.lines[1]}" if found.lines[1] > found.line else ""
    said = [part for part in ("" if "which" in found.numbers else f"{found.count} times", last) if part]
    return f" ({', '.join(said)})" if said else ""
