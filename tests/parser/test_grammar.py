"""The grammar is the definition of a line: what it makes, reads; what is read, writes and reads the same."""

import re
from importlib.resources import files
from math import isnan

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from proveout.parser import lines
from proveout.parser.lines import FAMILIES, Unread, parsed_line, plain_line, read_line
from proveout.parser.slips import Slip
from proveout.parser.written import Assignment, Call, Chain, Comment, Number, Parameter, Signed, Word

from .random_lines import random_lines

# terminals whose expressions look ahead: what the grammar's own lexer makes of them is drawn from samples
SAMPLED = {
    "LEVEL": st.sampled_from("123456789"),
    "OPERATOR": st.sampled_from(["*", "**", "MOD", " and ", "OR", "xor", "EQ", "ne", "GT", "GE", "LT", "LE"]),
    "FUNCTION": st.sampled_from(
        ["ABS", "acos", "ASIN", "Cos", "EXP", "FIX", "FUP", "LN", "ROUND", "SIN", "S Q RT", "TAN"]),
    "ATAN": st.sampled_from(["ATAN", "atan"]),
    "ROUND": st.sampled_from(["()", "(hello)", "(a (b) c)", "( MSG, hi)"]),
    "OPEN": st.sampled_from(["(open", "((a)"]), "TAIL": st.sampled_from(["; note", ";", "// note"]),
    "CHECKSUM": st.sampled_from(["*57", "* 5 "]),
    "NUMBER": st.sampled_from(["0", "1", "12", "3.5", ".5", "5.", "0. 12 34", "007", "1.5e-14"]),
}
LINES = random_lines(SAMPLED)
ENDERS = ("; ", "//", "(open", "((a)", "*5")


def outcome(reader, text):
    """The Line of a text, or the Slip that says why it is none."""
    try:
        return reader(text)
    except Unread as unread:
        return unread.slip


def one_line(text):
    """Whether what was made stands on one line, with nothing behind what ends a line."""
    return not any(c in text for c in "\n\r") and not any(end in text.rstrip()[:-7] for end in ENDERS)


@given(LINES.filter(one_line))
@settings(max_examples=150, suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow])
def test_every_line_that_the_grammar_makes_is_read(text):
    """But for the two places where the reader has to choose: a # behind a letter is its value, not a
    setting's; a / behind ATAN[…] begins its second part, not a division."""
    read = outcome(read_line, text)
    if isinstance(read, Slip):
        before = "".join(text[:read.column].upper().split())
        assert read.found == 'an "="' or re.search(r"ATAN\[.*\]/.$", before)


# --- lines written from data ---

def floats():
    return st.decimals(0, 99999, places=4).map(float)


NUMBERS = st.builds(lambda v, s: Number(-v if s else v, True), floats(), st.booleans())
PLAIN = st.builds(lambda v: Number(float(v)), st.integers(0, 9999))
LEAVES = st.one_of(NUMBERS, PLAIN)


def deeper(values):
    chains = st.integers(1, 4).flatmap(lambda n: st.builds(
        Chain, st.lists(values, min_size=n, max_size=n).map(tuple),
        st.lists(st.sampled_from(["+", "-", "*", "/", "**", "MOD", "AND", "OR", "XOR"]), min_size=n - 1,
                 max_size=n - 1).map(tuple)))
    return st.one_of(
        chains, st.builds(Call, st.sampled_from(["ABS", "SIN", "LN", "ROUND"]), chains),
        st.builds(Call, st.just("ATAN"), chains, chains),
        st.builds(Parameter, st.one_of(PLAIN, chains)),
        st.builds(Signed, st.sampled_from([1, -1]), st.one_of(st.builds(Parameter, PLAIN), chains)))


VALUES = st.recursive(LEAVES, deeper, max_leaves=8)
LETTER = st.sampled_from("ABCDFGHIJKLMPQRSTXYZEUVW")
INDEX = st.one_of(PLAIN, st.builds(Parameter, PLAIN))
WORDS = st.builds(lambda letter, v: Word(letter, v, 0, 0), LETTER, VALUES)
SETTINGS = st.builds(lambda i, v: Assignment(i, v, 0, 0), INDEX, VALUES)
COMMENTS = st.builds(lambda t: Comment(t, 0, 0), st.text("abc XYZ 123,;.#[]=", max_size=12))
ITEMS = st.lists(st.one_of(WORDS, SETTINGS, COMMENTS), max_size=6)


def text_of(value):
    match value:
        case Number(v, pointed):
            return f"{v:.4f}" if pointed else f"{v:.0f}"
        case Parameter(index):
            return "#" + text_of(index)
        case Signed(sign, inner):
            return ("-" if sign < 0 else "+") + text_of(inner)
        case Call(name, argument, second):
            return name + text_of(argument) + ("/" + text_of(second) if second is not None else "")
        case Chain(values, operators):
            parts = [text_of(values[0])]
            for operator, each in zip(operators, values[1:], strict=True):
                parts += [operator, text_of(each)]
            return "[" + " ".join(parts) + "]"
        case Word(letter, inner):
            return letter + text_of(inner)
        case Assignment(index, inner):
            return f"#{text_of(index)} = {text_of(inner)}"
        case Comment(text):
            return f"({text})"


def bare(item):
    """Without the place where it stands."""
    return (type(item), *(getattr(item, name) for name in item.__slots__ if name not in ("column", "end")))


@given(ITEMS, st.one_of(st.none(), st.integers(0, 99999)), st.booleans())
def test_what_is_written_is_read(items, number, skippable):
    text = ("/" if skippable else "") + (f"N{number} " if number is not None else "")
    text += " ".join(text_of(item) for item in items)
    line = read_line(text)
    assert line.number == number
    assert line.skippable is skippable
    for kind, read in ((Word, line.words), (Assignment, line.assignments), (Comment, line.comments)):
        assert [bare(each) for each in read] == [bare(item) for item in items if isinstance(item, kind)]
    for each in (*line.words, *line.assignments, *line.comments):
        assert text[each.column - 1:each.end - 1].replace(" ", "") == text_of(each).replace(" ", "")


BLANKS = st.sampled_from(["", " ", "\t", "  "])
LETTERS = st.sampled_from("ABCDEFGHIJKLMPQRSTUVWXYZabcdefghxyz")
LITERAL = st.from_regex(r"[-+]?( ?)([0-9]{1,6}\.?[0-9]{0,5}|\.[0-9]{1,5})", fullmatch=True)


NUMBERED = st.sampled_from(["", "N7 ", " N10", "n 3"])


@given(st.lists(st.tuples(BLANKS, LETTERS, BLANKS, LITERAL, BLANKS), max_size=7), NUMBERED)
def test_the_quick_way_reads_what_the_grammar_reads(words, number):
    text = number + "".join("".join(word) for word in words)
    quick = plain_line(text)
    assert quick is not None
    assert quick == parsed_line(text)


@given(st.text("GXYZNO0123456789.-+ []#/*;()%=eE", max_size=30))
def test_the_quick_way_never_reads_what_the_grammar_refuses(text):
    quick, read = plain_line(text), outcome(parsed_line, text)
    assert quick is None or quick == read
    if isinstance(read, Slip):
        assert 1 <= read.column <= read.end <= len(text) + 2


ANY = st.characters(blacklist_characters="\r\n", blacklist_categories=("Cs",))
ONE_LINE = st.text(ANY, max_size=60)
WORDY = st.lists(st.sampled_from([
    "o", "1", " ", "IF", "[", "]", "#", "<", ">", "GOTO", "WHILE", "DO", "END", "sub", "call", "X", "=",
    "THEN", "EXISTS", "(", ")", "-", "2.5", "LT"])).map("".join)


@given(st.one_of(ONE_LINE, WORDY), st.sampled_from(sorted(FAMILIES)))
def test_any_text_is_a_line_or_says_why_not(text, flow):
    read = outcome(lambda line: read_line(line, flow), text)
    if isinstance(read, Slip):
        assert read.found
        assert read.expected
    else:
        assert all(not isnan(w.value.value) or read.slips for w in read.words if isinstance(w.value, Number))


def test_a_grammar_fits_on_a_screen():
    for file in files("proveout.parser.grammar").iterdir():
        if file.name.endswith(".lark"):
            assert len(file.read_text(encoding="utf-8").splitlines()) <= 66


def test_tables_that_are_kept_read_the_same(tmp_path, monkeypatch):
    """Built, then taken from where they were kept, then built again where what is kept is not whole."""
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path))
    text = "N10 G1 X[#5*2] Y-3.5 (a (b) c) F100 IF"
    seen = [outcome(lines.Grammar("both").line, text[:-3])]
    kept = next(tmp_path.glob("grammar-*.tables"))
    for broken in (kept.read_bytes(), kept.read_bytes()[:-100], b"", b"\x80\x05."):
        kept.write_bytes(broken)
        seen.append(outcome(lines.Grammar("both").line, text[:-3]))
    assert all(each == seen[0] for each in seen)
    assert list(tmp_path.iterdir()) == [kept]


def test_where_nothing_can_be_written_tables_are_built(tmp_path, monkeypatch):
    (tmp_path / "in the way").write_text("")
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path / "in the way"))
    assert lines.Grammar("none").line("G1 X2") == parsed_line("G1 X2")
