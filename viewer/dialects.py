"""`proveout explain dialects`: what a dialect decides, how the shipped ones do, and how to write one's own.

The law: made from the table of keys and the shipped files, so that the page cannot say anything else.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from itertools import groupby
from typing import Any

from ..parser.dialect import BASE, load_dialect, shipped
from ..parser.dialect_keys import KEYS
from ..parser.finding import Severity

OWN = """name = "ours"
inherits = "usermacro"            # the shipped one that is nearest
[rapid]
path = "linear"                   # a key and the value that your control has
[home]
axes = { either = ["named", "all"] }   # not looked up yet: lines that hang on it are told
[conditions]
bare-motion-code = "off"          # off, note, caution or stop"""
LONG = 46  # characters of a value that is shown whole


def page() -> str:
    """The whole page, Markdown."""
    return "\n".join([
        "# dialects", "",
        "A dialect says how a control reads a program, as data. Name one with `--dialect` or in the job "
        "(`machine.dialect`); with none the union reading is used: what any family accepts, with the keys "
        "left open that families answer differently.", "", *heads(), "",
        "One of your own is a file of a few lines, given by its path:", "", "```toml", OWN, "```", "",
        "The keys, each with the report's answer and what others say instead (`a / b`: left open):", "",
        "```",
        *rows(), "```", "",
        "The conditions, each with its weight in the report and where it differs:", "", "```",
        *conditions(), "```"])


def heads() -> Iterator[str]:
    """One line a shipped dialect."""
    yield from (f"- **{name}**: {load_dialect(name).title}" for name in shipped())


def rows() -> Iterator[str]:
    """Each key, what it decides, and its answers."""
    for key, decided in KEYS.items():
        answers = {name: answer(name, key) for name in shipped()}
        yield f"{key}: {decided.says}"
        yield f"    {answers[BASE]}"
        yield from _others(answers)


def _others(answers: dict[str, str]) -> Iterator[str]:
    """Those that do not say what the report says, by what they say."""
    others = sorted((said, name) for name, said in answers.items() if said != answers[BASE])
    for said, same in groupby(others, lambda each: each[0]):
        yield f"    {', '.join(name for _, name in same)}: {said}"


def answer(name: str, key: str) -> str:
    """A dialect's answer, all of its alternatives where it leaves the key open."""
    dialect = load_dialect(name)
    return " / ".join(_said(each) for each in (dialect[key], *dialect.alternatives.get(key, ())))


def _said(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False)
    return text if len(text) <= LONG else f"{text[:LONG - 1]}…"


def conditions() -> Iterator[str]:
    """Each condition and how it weighs."""
    for name in load_dialect(BASE).conditions:
        weights = {each: _weight(load_dialect(each).severity(name)) for each in shipped()}
        others = "; ".join(part.strip() for part in _others(weights))
        yield f"{name:<28} {weights[BASE]:<8} {others}".rstrip()


def _weight(severity: Severity | None) -> str:
    return "off" if severity is None else severity.word
