"""Conditions held against ranges: whether they may hold, and where they may.

The law: never too narrow. A condition that may come out both ways narrows its parameters by trial: the range
of each is cut at the numbers that the condition names, and what cannot come out as wanted is left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import ceil, floor, inf, isfinite, nextafter

from .dependence import reads
from .dialect import Dialect
from .ranges import Range, Ranges, range_of
from .written import Call, Chain, Number, Signed, Value


def decided(value: Value, ranges: Ranges, dialect: Dialect) -> tuple[Ranges | None, Ranges | None]:
    """The parameters where a condition may hold, and where it may not; None where it cannot be so."""
    may, may_not = _may(range_of(value, ranges, dialect))
    if may and may_not:
        return _where(value, ranges, dialect, True), _where(value, ranges, dialect, False)
    return ranges if may else None, ranges if may_not else None


def _may(known: Range) -> tuple[bool, bool]:
    """Whether a condition may hold, and may not; what is no number does not."""
    return (known.low, known.high) != (0, 0), known.low <= 0 <= known.high or not known.sure


def _where(value: Value, ranges: Ranges, dialect: Dialect, wanted: bool) -> Ranges | None:
    """The parameters narrowed to where a condition may come out as wanted."""
    read = reads(value) & ranges.keys()
    cuts = sorted({*numbers_of(value), *(end for var in read for end in ranges[var][:2])})
    for var in sorted(read, key=str):
        if not ranges[var].sure:
            continue
        left = [piece for piece in _pieces(ranges[var], cuts)
                if _may(range_of(value, {**ranges, var: piece}, dialect))[not wanted]]
        if not left:
            return None
        ranges = {**ranges, var: Range(left[0].low, left[-1].high, ranges[var].whole)}
    return ranges


def _pieces(known: Range, cuts: Iterable[float]) -> Iterator[Range]:
    """A range cut at numbers: what is below each, itself, what is above, in order."""
    low = known.low
    for cut in cuts:
        if low <= cut <= known.high:
            yield from _tight(low, nextafter(cut, -inf), known.whole)
            yield from _tight(cut, cut, known.whole)
            low = nextafter(cut, inf)
    yield from _tight(low, known.high, known.whole)


def _tight(low: float, high: float, whole: bool) -> Iterator[Range]:
    if whole and isfinite(low) and isfinite(high):
        low, high = float(ceil(low)), float(floor(high))
    if low <= high:
        yield Range(low, high, whole)


def numbers_of(value: Value) -> Iterator[float]:
    """The numbers that are written in a value, and their opposites."""
    match value:
        case Number(number) if isfinite(number):
            yield from (number, -number)
        case Signed(_, inner):
            yield from numbers_of(inner)
        case Call(_, argument, second):
            yield from numbers_of(argument)
            yield from numbers_of(second) if second is not None else ()
        case Chain(values, _):
            for each in values:
                yield from numbers_of(each)
