"""Random lines of the grammar, for hypothesis."""

from __future__ import annotations

import re
from collections.abc import Mapping

from hypothesis.extra.lark import from_lark
from hypothesis.strategies import SearchStrategy
from lark import Lark
from proveout.parser.lines import rules_of


def random_lines(sampled: Mapping[str, SearchStrategy[str]], flow: str = "none") -> SearchStrategy[str]:
    """Lines of a family; `sampled` gives terminals whose expressions look ahead. The grammar is built here:
    tables that were kept do not hold its rules."""
    grammar = Lark(rules_of(flow), parser="lalr", start="line", g_regex_flags=re.ASCII)
    return from_lark(grammar, start="line", explicit=dict(sampled))
