"""One program read in both lanes, and held against each other bit for bit."""

from __future__ import annotations

from dataclasses import fields
from unittest.mock import patch

import numpy as np
from proveout.parser import scan
from proveout.parser.dialect import Dialect
from proveout.parser.interpreter import read_program
from proveout.parser.motion import Motion
from proveout.parser.reading import Reading, Setting
from proveout.parser.source import Source


def read_both(source: Source, dialect: Dialect, setting: Setting = Setting()) -> Reading:  # noqa: B008
    """The Reading, which is the same in the quick lane and in the grammar's; also the shortest stretches take
    the quick lane here. Raises whatever both lanes raise."""
    with patch.object(scan, "FEW", 1):
        quick, other = (outcome(source, dialect, setting, lane) for lane in (True, False))
    if isinstance(other, Exception):
        assert repr(quick) == repr(other)
        raise other
    assert isinstance(quick, Reading), quick
    hold(quick, other)
    return other


def outcome(source, dialect, setting, quick):
    try:
        return read_program(Source(source.name, source.data), dialect, setting, quick=quick)
    except Exception as raised:
        return raised


def hold(one: Reading, two: Reading) -> None:
    """Two readings are the same, bit for bit."""
    for field in fields(Reading):
        a, b = getattr(one, field.name), getattr(two, field.name)
        if field.name == "motion":
            assert bits(a) == bits(b), first_difference(a, b)
        else:
            assert repr(a) == repr(b), field.name


def bits(motion: Motion) -> list:
    """Every array of a Motion as bytes, and the rest as it is."""
    parts = [(field.name, getattr(table, field.name)) for table in (motion, motion.arcs)
             for field in fields(table) if field.name != "arcs"]
    return [(name, part.dtype, part.shape, part.tobytes()) if isinstance(part, np.ndarray)
            else (name, repr(part)) for name, part in parts]


def first_difference(one: Motion, two: Motion) -> str:
    """Where two motions part, for a person."""
    for a, b in zip(bits(one), bits(two), strict=True):
        if a != b:
            return f"{a[0]}: {getattr(one, a[0], one.arcs)!r} or {getattr(two, b[0], two.arcs)!r}"
    return ""
