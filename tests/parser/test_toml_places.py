"""The walk over a TOML text sees what tomllib sees, and points at it.

Oracle: tomllib (the standard library). Every key path of its tree has a place and no other has one; the text
at the place, read by tomllib on its own, is that key and that value.
"""

from __future__ import annotations

import tomllib
from datetime import date, datetime, time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from proveout.parser.toml_places import Path, places_of

LETTERS = st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"])
ODD_KEYS = ["x", "grid", "from", "at-line", "1", "3.5", "a b", "ü", "", 'q"', "#", "[x]", "="]
ODD_TEXTS = ["", "a", "] # no", "}", 'say "no"', "it's", "''", '"""', "line\nbreak", "\\", "=", ","]
KEYS = st.one_of(st.sampled_from(ODD_KEYS), st.text(LETTERS, max_size=4))
TEXTS = st.one_of(st.sampled_from(ODD_TEXTS), st.text(LETTERS, max_size=6))
SCALARS = st.one_of(st.booleans(), st.integers(-10**6, 10**6),
                    st.floats(allow_nan=False, allow_infinity=False), TEXTS, st.dates(date(1000, 1, 1)),
                    st.datetimes(datetime(1000, 1, 1)), st.times())
VALUES = st.recursive(SCALARS, lambda deeper: st.one_of(
    st.lists(deeper, max_size=3), st.dictionaries(KEYS, deeper, max_size=3)), max_leaves=8)
TREES = st.dictionaries(KEYS, VALUES, max_size=4)
BARE = set("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789_-")


class Writer:
    """Writes a tree as TOML, drawing a style at every fork."""

    def __init__(self, data: st.DataObject) -> None:
        self.draw = data.draw
        self.lines: list[str] = []

    def one_of(self, *ways: str) -> str:
        return self.draw(st.sampled_from(ways))

    def key(self, name: str) -> str:
        ways = [basic(name)]
        ways += [name] if name and set(name) <= BARE else []
        ways += [f"'{name}'"] if "'" not in name and name.isprintable() else []
        return self.one_of(*ways)

    def text(self, value: str) -> str:
        ways = [basic(value)]
        if "'" not in value and value.isprintable():
            ways.append(f"'{value}'")
        if "\\" not in value and '"""' not in value and not value.endswith('"'):
            ways += [f'"""{value}"""', f'"""\n{value}"""', f'"""{value}\\\n   """']
        if "'''" not in value and not value.endswith("'"):
            ways.append(f"'''\n{value}'''")
        return self.one_of(*ways)

    def value(self, value: object) -> str:
        if isinstance(value, dict):
            return "{" + self.gap().replace("\n", " ") + ", ".join(self.pairs(value)) + "}"
        if isinstance(value, list):
            inside = f",{self.break_()}".join(self.value(v) for v in value)
            return f"[{self.break_()}{inside}{self.break_()}]"
        return self.scalar(value)

    def scalar(self, value: object) -> str:
        if isinstance(value, str):
            return self.text(value)
        if isinstance(value, bool):
            return str(value).lower()
        if isinstance(value, datetime):
            return value.isoformat(self.one_of("T", " ")) + self.one_of("", "Z", "+01:30")
        if isinstance(value, date | time):
            return value.isoformat()
        return repr(value)

    def pairs(self, table: dict) -> list[str]:
        """key = value for an inline table or a table's body; dotted where that can be."""
        written = []
        for name, value in table.items():
            if isinstance(value, dict) and value and self.draw(st.booleans()):
                written += [f"{self.key(name)}{self.gap()}.{self.gap()}{pair}" for pair in self.pairs(value)]
            else:
                written.append(f"{self.key(name)}{self.gap()}={self.gap()}{self.value(value)}")
        return written

    def gap(self) -> str:
        return self.one_of("", " ", "\t ")

    def break_(self) -> str:
        return self.one_of("", " ", "\n", " # [ a comment, \"\n  ")

    def table(self, header: tuple[str, ...], table: dict) -> None:
        """The pairs that stay in the body, then the tables that get a header of their own."""
        apart = {n: v for n, v in table.items() if can_stand_apart(v) and self.draw(st.booleans())}
        self.lines += [self.gap() + pair + self.gap() + self.one_of("", "# x = 1")
                       for pair in self.pairs({n: v for n, v in table.items() if n not in apart})]
        for name, value in apart.items():
            path = (*header, self.key(name))
            for each in value if isinstance(value, list) else [value]:
                name = self.gap() + self.one_of(".", " . ").join(path) + self.gap()
                self.lines += ["", f"[[{name}]]" if isinstance(value, list) else f"[{name}]"]
                self.table(path, each)


def can_stand_apart(value: object) -> bool:
    return isinstance(value, dict) or (isinstance(value, list) and bool(value)
                                       and all(isinstance(v, dict) for v in value))


def basic(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
    return f'"{escaped}"'


def paths_in(value: object, path: Path = ()) -> dict[Path, object]:
    """Every key path of a tree with its value, lists by index."""
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    found: dict[Path, object] = {path: value} if path else {}
    for name, each in inside:
        found |= paths_in(each, (*path, name))
    return found


@settings(max_examples=300, deadline=None)
@given(st.data(), TREES, st.sampled_from(["\n", "\r\n"]))
def test_places_and_tomllib_agree_on_every_key(data, tree, newline):
    writer = Writer(data)
    writer.table((), tree)
    text = newline.join(line.replace("\n", newline) for line in writer.lines)
    read = tomllib.loads(text)
    places = places_of(text)
    known = paths_in(read)
    assert places.keys() == known.keys()
    lines = text.replace("\r\n", "\n").split("\n")
    for path, place in places.items():
        key = lines[place.key.line - 1][place.key.column - 1:place.key.end - 1]
        if isinstance(path[-1], str):
            assert tomllib.loads(f"{key} = 1") == {path[-1]: 1}
        if place.text:
            assert tomllib.loads(f"v = {place.text}")["v"] == known[path]
            first = place.text.split("\n")[0]
            shown = lines[place.value.line - 1][place.value.column - 1:place.value.end - 1]
            assert shown == first


def test_places_of_a_job_by_hand():
    text = ('title = "x"\n'
            "[board]\n"
            "x = [0, 600]\n"
            "[[cutters]]\n"
            "number = 1\n"
            "  corner = { radius = 0.4 }\n"
            "[[cutters]]\n"
            'a."b c" = 2\n')
    places = places_of(text)
    assert [(p, v.key.line, v.key.column, v.key.end, v.value.column) for p, v in places.items()] == [
        (("title",), 1, 1, 6, 9), (("board",), 2, 2, 7, 2), (("board", "x"), 3, 1, 2, 5),
        (("board", "x", 0), 3, 6, 7, 6), (("board", "x", 1), 3, 9, 12, 9), (("cutters",), 4, 3, 10, 3),
        (("cutters", 0), 4, 3, 10, 3), (("cutters", 0, "number"), 5, 1, 7, 10),
        (("cutters", 0, "corner"), 6, 3, 9, 12), (("cutters", 0, "corner", "radius"), 6, 14, 20, 23),
        (("cutters", 1), 7, 3, 10, 3), (("cutters", 1, "a"), 8, 1, 2, 1),
        (("cutters", 1, "a", "b c"), 8, 3, 8, 11)]


def test_nearest_place_is_the_table_around():
    places = places_of("[[cutters]]\nnumber = 1\n")
    assert places.nearest(("cutters", 0, "diameter")) == places["cutters", 0]
    assert places.nearest(("stages",)) is None


def test_a_line_break_in_an_inline_table_is_noted():
    (broken,) = places_of('bed = { top = 1,\n soft = true }\n').broken_tables
    assert (broken.line, broken.column) == (1, 7)
    assert places_of('bed = { a = [1,\n 2], b = """x\ny""" }\n').broken_tables == ()


@pytest.mark.parametrize("text", [
    "[", "[[a]", "a", "a =", "a = [1, ", "a = {b", "= 1", "a.. = 1", 'a = "x', "\x00", "[" * 5000,
    "a = " + "[" * 5000, '"\\q" = 1', "a = }", "]"])
def test_what_is_no_toml_does_no_harm(text):
    assert isinstance(len(places_of(text)), int)
