"""Bytes to lines: as an editor counts them, whatever ends them and however they are encoded."""

import hashlib
from unittest.mock import patch

import pytest
from hypothesis import given
from hypothesis import strategies as st
from proveout.parser import source as module
from proveout.parser.source import LONGEST_LINE, Source, Unreadable, decode

PLAIN = st.text(st.characters(blacklist_characters="\r\n\0", blacklist_categories=("Cs",)), max_size=20)


@given(st.lists(PLAIN, min_size=1, max_size=8), st.sampled_from(["\n", "\r\n", "\r"]), st.booleans())
def test_lines_are_the_same_whatever_ends_them(lines, end, closed):
    lines = [line.lstrip("\ufeff") for line in lines]
    data = (end.join(lines) + (end if closed else "")).encode()
    if not data:
        return
    read = Source("a", data).lines
    kept = lines if closed or lines[-1] else lines[:-1]
    assert list(read) == kept
    assert Source("a", data).line(len(read) + 1) == ""
    assert Source("a", data).line(0) == ""


@given(st.lists(PLAIN | st.sampled_from(["\r", "\n", "\r\n", "%", "G1 X1"]), min_size=1, max_size=9),
       st.sampled_from(["", "\ufeff"]), st.sampled_from(["utf-8", "latin-1", "utf-16"]))
def test_a_long_text_has_the_same_lines(parts, mark, encoding):
    """Its lines are looked up, not all made."""
    data = (mark + "".join(parts)).encode(encoding, errors="ignore")
    if not data or (b"\0" in data and encoding != "utf-16"):
        return
    whole = Source("a", data).lines
    with patch.object(module, "LONG", 0):
        read = Source("a", data)
        assert (read.laid is None) == (read.encoding == "utf-16")
        assert tuple(read.between(-1, 99)) == whole
        assert (read.count, read.line(2), read.line(99)) == (len(whole), (*whole, "", "")[1], "")
        assert read.quote(1) == Source("a", data).quote(1)
        read.check()


def test_a_long_text_with_a_line_too_long():
    with pytest.raises(Unreadable, match="line 2 is"):
        Source("a.nc", b"G1\n" + b"X" * (LONGEST_LINE + 1) + b"\nG1").check()
    Source("a.nc", b"G1\n" + b"X" * LONGEST_LINE + b"\nG1").check()
    Source("a.nc", "ä".encode() * LONGEST_LINE).check()


@given(PLAIN.filter(bool))
def test_every_encoding_gives_the_same_text(text):
    text = text.lstrip("\ufeff") or "G1"
    assert decode("a", text.encode()) == text
    assert decode("a", text.encode("utf-8-sig")) == text
    assert decode("a", text.encode("utf-16")) == text


def test_what_is_no_utf8_is_read_byte_by_byte():
    assert decode("a", b"(\xe4) G1") == "(ä) G1"


@pytest.mark.parametrize(("data", "said"), [
    (b"", "empty"), (b"G1\0", "byte 3 is zero"), (b"\xff\xfeG", "utf-16")])
def test_no_text(data, said):
    with pytest.raises(Unreadable, match=said):
        decode("a.nc", data)


def test_a_line_can_be_too_long():
    with pytest.raises(Unreadable, match="line 2"):
        _ = Source("a.nc", b"G1\n" + b"X" * (LONGEST_LINE + 1)).lines
    assert len(Source("a.nc", b"X" * LONGEST_LINE).lines) == 1


def test_the_checksum_is_of_the_bytes():
    assert Source("a", b"G1\r\n").sha256 == hashlib.sha256(b"G1\r\n").hexdigest()


@given(st.integers(1, 300), st.integers(1, 300), st.integers(1, 20))
def test_a_quote_has_its_caret_under_the_column(length, column, width):
    text = "".join(chr(65 + n % 26) for n in range(length))
    column = min(column, length)
    shown, mark = Source("a", text.encode()).quote(1, column, column + width).split("\n")
    assert len(shown) <= 76
    assert shown[mark.index("^")] == text[column - 1]
    assert mark.count("^") == min(width, 76 - mark.index("^"))
