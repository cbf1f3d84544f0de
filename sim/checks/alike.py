"""Holes that are wrong alike: one finding for all that one change mends.

The law: findings of one kind are one where what is to be done is the same, word for word; it counts the
holes, names them, and stands at the first, or at the worst where they are not all as wrong. What one hole
needs alone is told alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from ...parser.finding import Finding

NAMED = 8  # holes that are named one by one
ALIKE = 0.01  # mm that their values may differ by


def together(findings: Iterable[Finding]) -> list[Finding]:
    """Findings about one hole each ("Hole 4" as their `which`), those that one change mends as one."""
    alike: dict[tuple, list[Finding]] = {}
    for each in findings:
        alike.setdefault((each.kind, each.severity, each.advice()), []).append(each)
    return [group[0] if len(group) == 1 else as_one(group) for group in alike.values()]


def as_one(group: Sequence[Finding]) -> Finding:
    """One finding for several holes: how many there are, and which."""
    named = listed([each.about.split()[0] for each in group])
    first, worst = group[0], max(group, key=lambda each: abs((each.value or 0.0) - (each.limit or 0.0)))
    even = all(abs((each.value or 0.0) - (worst.value or 0.0)) <= ALIKE for each in group)
    shown, which = (first, "Each of") if even else (worst, "The worst of")
    return replace(
        shown, count=len(group), last_line=max(each.lines[1] for each in group),
        about=shown.about.replace(shown.about.split()[0], named, 1),
        numbers={**shown.numbers, "which": f"{which} {len(group)} holes ({named})"})


def listed(numbers: Sequence[str]) -> str:
    """ "1 to 8", or "2, 5, 7", the first eight of many."""
    counts = sorted(map(int, numbers))
    if len(counts) > 2 and counts == list(range(counts[0], counts[-1] + 1)):
        return f"{counts[0]} to {counts[-1]}"
    return ", ".join(map(str, counts[:NAMED])) + ", …" * (len(counts) > NAMED)
