"""Plain lines, compiled: bytes to words, and words to straight moves and arcs.

The law: whatever is not certain here is left to the grammar and the interpreter: a kernel stops before it
guesses. `scan_lines` marks each line that holds more than plain words; `run_rows` stops before the first row
that could add a finding. A number is taken only where its nearest double is certain: up to 2**53 without its
point, over a power of ten that is exact. Lengths in mm, board frame, save for numbers as written.
"""

from __future__ import annotations

from math import sqrt

import numpy as np

from ..compiling.loops import Loops

# what a byte is, in the table that the caller gives; a letter is itself, in upper case
STRANGE, BLANK, END, DIGIT, POINT, SIGN, LABEL = range(7)
# values of `label` for rows with no line number, and for lines that are left to the grammar
NO_LABEL, NOT_PLAIN = -1, -2
G, X, Y, Z, F, S, I, J, R = (ord(letter) for letter in "GXYZFSIJR")  # noqa: E741

POWERS = np.array([10.0**n for n in range(23)])  # all of them exact
TENS = 10 ** np.arange(8)
EXACT = 1 << 53
LONGEST_NUMBER = 40
LONGEST_LABEL = 9

# what `run_rows` keeps from row to row, in `now`: the tip, F as written, S, the motion code in force
FEED, SPEED, MOTION, NOW_NUMBERS = 3, 4, 5, 6
NO_MOTION, OTHER_MOTION = -1.0, -2.0  # in place of 0 to 3: none in force, or one that is not served here
# what holds for the whole run, in `rules`: booleans as 0 and 1, a shift for each axis, the arc tolerance
ABSOLUTE, SCALE, SHIFT, ARCS, CENTRES_ABSOLUTE, TOLERANCE, SHARE, HARD, SPEEDS_COUNT = 0, 1, 2, *range(5, 11)
# what `run_rows` adds to a move's code, its G number: both I and J are given, or R is
BOTH, BY_RADIUS = 4, 8

FARTHEST = 1e7  # as written, and mm
STANDING2 = 1e-18  # mm²: a shorter move is none
ROUNDING = 0.0005  # mm: closer points are the same point
SPIRAL = 1e-6  # mm: radii that differ by more than binary rounding
SAFE = 1e-7  # mm: nearer to a limit than this, the interpreter decides

LITTLE = bool(np.little_endian)
loops = Loops(__file__, globals())
helper = loops.helper()


# --- eight bytes at once -------------------------------------------------------------------------
def _load(typing, text, at):
    from llvmlite import ir
    from numba import types

    def generate(context, builder, signature, arguments):
        array = context.make_array(signature.args[0])(context, builder, arguments[0])
        place = builder.gep(array.data, [arguments[1]])
        word = builder.load(builder.bitcast(place, ir.IntType(64).as_pointer()))
        word.align = 1
        return word

    return types.uint64(text, types.int64), generate


def _count(typing, number):
    from llvmlite import ir
    from numba import types

    def generate(context, builder, signature, arguments):
        return builder.cttz(arguments[0], ir.Constant(ir.IntType(1), 0))

    return types.uint64(types.uint64), generate


_eight = loops.intrinsic("_eight", _load)  # eight bytes, all there, as a little-endian number, aligned or not
_low_zeros = loops.intrinsic("_low_zeros", _count)  # zero bits below the lowest that is set; 64 where none is


@helper
def _digits(word):
    """How many of eight bytes are digits before the first that is none."""
    rest = word ^ np.uint64(0x3030303030303030)
    rest = ((rest + np.uint64(0x0606060606060606)) | rest) & np.uint64(0xF0F0F0F0F0F0F0F0)
    return np.int64(_low_zeros(rest) >> np.uint64(3))


@helper
def _written(word, count):
    """The number that the first `count` (1 to 8) of eight bytes write, all of them digits."""
    word = (word - np.uint64(0x3030303030303030)) << np.uint64(64 - 8 * count)
    word = word * np.uint64(10) + (word >> np.uint64(8))
    low = (word & np.uint64(0x000000FF000000FF)) * np.uint64(0x000F424000000064)
    high = ((word >> np.uint64(16)) & np.uint64(0x000000FF000000FF)) * np.uint64(0x0000271000000001)
    return np.int64((low + high) >> np.uint64(32))


# --- bytes to words ------------------------------------------------------------------------------
@helper
def _byte(data, at):
    """data[at], with no thought of counting from the end."""
    return data[np.uint64(at)]


@helper
def _past_blanks(data, at, stop, kinds):
    while at < stop and kinds[_byte(data, at)] == BLANK:
        at += 1
    return at


@helper
def _short_number(data, at):
    """(value, the byte behind it) of a number of up to 7 digits before and 7 behind the point; -1 for the
    byte where it is another. Sixteen bytes can be read from `at`."""
    word = _eight(data, at)
    whole = _digits(word)
    if whole == 0 or whole == 8:
        return 0.0, -1
    mantissa = _written(word, whole)
    at += whole
    if _byte(data, at) != 46:
        return np.float64(mantissa), at
    word = _eight(data, at + 1)
    places = _digits(word)
    if places == 0:
        return np.float64(mantissa), at + 1
    if places == 8:
        return 0.0, -1
    return np.float64(mantissa * TENS[places] + _written(word, places)) / POWERS[places], at + 1 + places


@helper
def _number(data, at, stop, kinds):
    """(value, the byte behind it) of any number; -1 for the byte where it is none, or not certain."""
    begin, mantissa, digits, point = at, np.int64(0), 0, -1
    while at < stop:
        kind = kinds[_byte(data, at)]
        if kind == DIGIT and mantissa <= EXACT:
            mantissa = mantissa * 10 + np.int64(_byte(data, at) - 48)
            digits += 1
        elif kind == POINT and point < 0:
            point = digits
        else:
            break
        at += 1
    places = digits - point if point >= 0 else 0
    if digits == 0 or mantissa > EXACT or places > 22 or at - begin > LONGEST_NUMBER:
        return 0.0, -1
    return np.float64(mantissa) / POWERS[places], at


@helper
def _label(data, at, stop, kinds, most):
    """(the number behind an N, the byte behind it); -1 for the byte where it has no digits, or too many."""
    begin, number = at, np.int64(0)
    while at < stop and kinds[_byte(data, at)] == DIGIT and at - begin <= most:
        number = number * 10 + np.int64(_byte(data, at) - 48)
        at += 1
    return number, at if 0 < at - begin <= most else -1


@helper
def _words(data, at, stop, kinds, letters, values, words):
    """(where a line's words end, how many there are with them); -1 for the byte where it is not plain."""
    near = len(data) - 16 if LITTLE else -1
    while True:
        at = _past_blanks(data, at, stop, kinds)
        letter = kinds[_byte(data, at)] if at < stop else np.uint8(END)
        if letter <= LABEL:
            return at if letter == END else -1, words
        at = _past_blanks(data, at + 1, stop, kinds)
        sign = 1.0
        if at < stop and kinds[_byte(data, at)] == SIGN:
            sign = -1.0 if _byte(data, at) == 45 else 1.0
            at = _past_blanks(data, at + 1, stop, kinds)
        value, past = _short_number(data, at) if at <= near else (0.0, -1)
        if past < 0:
            value, past = _number(data, at, stop, kinds)
        if past < 0 or (letter == G and not (value == 0.0 or value == 1.0 or value == 2.0 or value == 3.0)):
            return -1, words
        at, letters[words], values[words] = past, letter, sign * value
        words += 1


@loops.entry("UniTuple(i8, 4)(Array(u1, 1, 'C', True), i8, i8, u1[::1], i8, i8, i4[::1], i4[::1], i8[::1],"
             " i8[::1], u1[::1], f8[::1])")
def scan_lines(data, at, stop, kinds, longest, digits, line, label, begin, first, letters, values):
    """The lines of data[at:stop], which ends behind a line end or with the text; line counts from 1 there.

    A row for each line that is not blank, NOT_PLAIN (and without words) for one that the grammar must read;
    so is one of more than `longest` bytes, and one whose label has more than `digits`. The last six arrays
    are a table's: see scan.Plain. Returns rows, words, lines and the bytes of the longest line.
    """
    row, words, lines, most = 0, np.int64(0), 0, 0  # a plain 0 would be a type of its own
    digits = min(digits, LONGEST_LABEL)
    while at < stop:
        here, lines, called, ahead = at, lines + 1, np.int64(NO_LABEL), words
        past = _past_blanks(data, at, stop, kinds)
        if past < stop and kinds[_byte(data, past)] == LABEL:
            called, past = _label(data, _past_blanks(data, past + 1, stop, kinds), stop, kinds, digits)
        if past >= 0:
            past, ahead = _words(data, past, stop, kinds, letters, values, words)
        at = max(at, past)
        while at < stop and kinds[_byte(data, at)] != END:
            at += 1
        most = max(most, at - here)
        if past < 0 or at - here > longest:
            called, ahead = np.int64(NOT_PLAIN), words
        if ahead > words or called != NO_LABEL:
            line[row], label[row], begin[row], first[row] = lines, called, here, words
            row, words = row + 1, ahead
        at += 2 if at + 1 < stop and data[at] == 13 and data[at + 1] == 10 else 1
    first[row] = words
    return row, words, lines, most


# --- words to moves ------------------------------------------------------------------------------
@helper
def _slot(letter):
    """The place of a letter in `found`: G X Y Z F S I J R."""
    if letter <= 73:  # F G I
        return 0 if letter == G else (4 if letter == F else 6)
    if letter >= X:
        return letter - 87
    return 7 if letter == J else (5 if letter == S else 8)


@helper
def _read_row(letters, values, word, last, found):
    """The row's values into `found`, and which there are as bits; -1 where a letter stands twice."""
    seen = 0
    for k in range(word, last):
        slot = _slot(letters[k])
        if seen & (1 << slot):
            return -1
        seen |= 1 << slot
        found[slot] = values[k]
    return seen


AXES, FEEDS, SPEEDS, CENTRE, RADIUS = 0b1110, 1 << 4, 1 << 5, 0b11 << 6, 1 << 8  # bits of `seen`
IN_PLANE = 0b110


@helper
def _lead(now, end, found, seen, rules):
    """Where the row's axis words lead, into `end`; (the square of how far, whether it is a place)."""
    reach, far, length2 = 0.0, 0.0, 0.0
    for axis in range(3):
        end[axis] = now[axis]
        if seen & (2 << axis):
            far = max(far, abs(found[1 + axis]))
            base = rules[SHIFT + axis] if rules[ABSOLUTE] != 0.0 else now[axis]
            end[axis] = found[1 + axis] * rules[SCALE] + base
        reach += abs(end[axis])
        length2 += (end[axis] - now[axis]) * (end[axis] - now[axis])
    return length2, reach < FARTHEST and far <= FARTHEST


@helper
def _find_centre(now, found, seen, rules, centre):
    """The centre that I and J say, into `centre`; false where one is missing or far."""
    absolute = rules[CENTRES_ABSOLUTE] != 0.0
    for axis in range(2):
        given = seen & (64 << axis)
        if (given and not abs(found[6 + axis]) <= FARTHEST) or (absolute and not given):
            return False
        number = found[6 + axis] if given else 0.0
        centre[axis] = number * rules[SCALE] + (rules[SHIFT + axis] if absolute else now[axis])
    return True


@helper
def _arc_is_clear(now, end, found, seen, rules, centre):
    """Whether an arc can be drawn with nothing to say of it; its centre, or radius, goes into `centre`."""
    dx, dy = abs(now[0] - end[0]), abs(now[1] - end[1])
    same = dx <= ROUNDING and dy <= ROUNDING
    if seen & RADIUS:
        centre[0], centre[1] = found[8] * rules[SCALE], 0.0
        return not same and not seen & CENTRE and abs(found[8]) <= FARTHEST
    if not _find_centre(now, found, seen, rules, centre):
        return False
    x, y, u, v = now[0] - centre[0], now[1] - centre[1], end[0] - centre[0], end[1] - centre[1]
    first, last = sqrt(x * x + y * y), sqrt(u * u + v * v)
    allowed = min(2 * ROUNDING, max(rules[TOLERANCE], min(rules[SHARE] * first, rules[HARD])))
    round_enough = max(first, last) > ROUNDING + SAFE and abs(first - last) < allowed - SAFE
    return round_enough and (not same or sqrt(dx * dx + dy * dy) < 0.9 * SPIRAL)


@helper
def _moves(now, end, found, seen, motion, feed, rules, centre):
    """1 where the row moves, 0 where it stands, -1 where the interpreter must see to it."""
    shapes = seen & (CENTRE | RADIUS)
    if not seen & AXES:
        return -1 if seen & 1 or shapes or motion == OTHER_MOTION else 0
    if motion < 0.0 or (motion > 0.0 and not feed > 0.0):
        return -1
    length2, placed = _lead(now, end, found, seen, rules)
    if not placed:
        return -1
    if motion < 2.0:
        if shapes or 0.99 * STANDING2 < length2 < 1.01 * STANDING2:
            return -1
        return 1 if length2 > STANDING2 else 0
    clear = rules[ARCS] != 0.0 and shapes and seen & IN_PLANE
    return 1 if clear and _arc_is_clear(now, end, found, seen, rules, centre) else -1


@loops.entry("UniTuple(i8, 3)(i4[::1], i8[::1], u1[::1], f8[::1], i8, i8, f8[::1], f8[::1], f8[:,::1],"
             " i4[::1], u1[::1], f8[:,::1], f8[:,::1], f8[::1], f8[:,::1], i4[::1], f8[::1])")
def run_rows(line, first, letters, values, row, until, now, rules, room,
             m_line, m_code, m_start, m_end, m_feed, m_centre, m_turned, m_speed):
    """Rows of a table from `row` up to `until`, carried out in the plane of X and Y until one that is not
    clear. `now` (NOW_NUMBERS) is what the control knows before and after, `rules` (ABSOLUTE and on) what
    holds all the while, `room` (3, 9) scratch; the others have room for a move of each row: see quick.Made.

    Returns the first row that was not carried out, and how many moves and speeds there are.
    """
    found, end, centre = room[0], room[1], room[2]
    moves, speeds = 0, 0
    while row < until:
        seen = _read_row(letters, values, first[row], first[row + 1], found)
        if seen < 0 or (seen & FEEDS and not found[4] > 0.0) or (seen & SPEEDS and not found[5] >= 0.0):
            break
        motion = found[0] if seen & 1 else now[MOTION]
        feed = found[4] if seen & FEEDS else now[FEED]
        made = _moves(now, end, found, seen, motion, feed, rules, centre)
        if made < 0:
            break
        if seen & SPEEDS and rules[SPEEDS_COUNT] != 0.0 and found[5] != now[SPEED]:
            m_turned[speeds], m_speed[speeds], now[SPEED] = moves, found[5], found[5]
            speeds += 1
        now[MOTION], now[FEED] = motion, feed
        if made:
            m_line[moves], m_feed[moves] = line[row], feed * rules[SCALE] if motion > 0.0 else np.nan
            m_code[moves] = np.uint8(motion)
            for axis in range(3):
                m_start[moves, axis], m_end[moves, axis], now[axis] = now[axis], end[axis], end[axis]
            if motion >= 2.0:
                m_centre[moves, 0], m_centre[moves, 1] = centre[0], centre[1]
                m_code[moves] += np.uint8((BOTH if seen & CENTRE == CENTRE else 0)
                                          + (BY_RADIUS if seen & RADIUS else 0))
            moves += 1
        row += 1
    return row, moves, speeds
