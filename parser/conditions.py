"""The conditions that an interpreter must report, and how each is said: the rows of conditions.toml.

The law: one row a condition: the kind of finding that it is, what is wrong, and what to change. Blanks
name their dimension as in kinds.toml, so lengths are shown in the job's unit. How a condition weighs is
the dialect's; handlers name conditions and give numbers, they word nothing.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class Condition:
    """`weigh` is the dialect's name for it, where that is another; a condition that no dialect weighs has
    the severity of its kind."""

    kind: str
    what: str = ""
    fix: str = ""
    weigh: str = ""


def _rows() -> Mapping[str, Condition]:
    text = files(__name__.rpartition(".")[0]).joinpath("conditions.toml").read_text(encoding="utf-8")
    return MappingProxyType({name: Condition(**row) for name, row in tomllib.loads(text).items()})


CONDITIONS: Mapping[str, Condition] = _rows()
