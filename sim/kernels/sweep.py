"""Sweeping: what moves do to a height map, in one step a move, in closed form, never stamped.

The law: every number comes in as arrays and scalars; a tile is worked on by one thread, its sweeps in
order, and nothing that a tile computes depends on another tile. Lengths in mm, board frame; heights
float32, NaN off the board; geometry float64.

A *sweep* is a straight move, an arc in plan (level, or a helix of a flat cutter) or a chord of another arc.
A straight path runs from S over length L in direction D, climbing M for each mm; a cell lies u along it and
v to its left. A bowed chord follows its arc: in its middle it lies B off the straight line. An arc runs
counter-clockwise from S to E about the centre through L radians, climbing M for each, both signs allowed.
A *round* is a cutter's lower surface: flat out to radius A, then rising as a circle of radius F or a cone of
slope K, out to radius R; only from radius C outward does it cut. Tilted, it is sheared by the slopes GX, GY
and raised by LIFT.
Some cutters are a polyline of rings instead (PIECES).
"""

from __future__ import annotations

from math import acos, atan2, ceil, floor, hypot, sqrt
from typing import NamedTuple

import numpy as np

from ...parser.compiling.loops import Loops

# columns of `sweeps` (float64)
SX, SY, SZ, DX, DY, L, M, EX, EY, CX, CY, AR, LOW = range(13)
BX, BY, BZ = CX, CY, AR  # of a chord
SWEEP_NUMBERS = 13
# columns of `orders` (int32)
MOVE, ROUND, PATH, ACT = range(4)
ORDER_NUMBERS = 4
# values of PATH: straight; arcs: up to half a turn, up to a turn, a turn and more
STRAIGHT, NARROW, WIDE, FULL = range(4)
# values of ACT: cut · look only (touch) · cut what stands clearly above (a rapid) · one of a move's chords
CUT, LOOK, SCRAPE, CHORD = range(4)
# columns of `rounds` (float64)
R, C, A, F, K, GX, GY, LIFT, P0, P1 = range(10)
ROUND_NUMBERS = 10
# columns of `pieces`: a ring from radius 0 to radius 1, at height 0 to height 1
R0, R1, H0, H1 = range(4)
# columns of what is found for each (tile, sweep) pair
VOLUME, CELLS, DEPTH, AT_I, AT_J, LOWEST = range(6)
FOUND_NUMBERS = 6


class Ground(NamedTuple):
    """What a tile is worked on with: the map, the tile's columns and first row, what is known of its rows
    (tops: no cell stands more than NOISE above it, inf: not looked at yet; even: all cells are equal; done:
    of cells `begin` up to `past` none stands more than NOISE above it), and room for a row of heights and one
    of distances. memo: which cells the heights on one side of the path are for, where the next row may want
    them too; which cells a sweep across the rows meets; the same as the first for the other side."""

    heights: np.ndarray
    last: np.ndarray
    x0: float
    y0: float
    cell: float
    j0: int
    i0: int
    i1: int
    tops: np.ndarray
    even: np.ndarray
    done: np.ndarray
    begin: np.ndarray
    past: np.ndarray
    z: np.ndarray
    reach: np.ndarray
    memo: np.ndarray


class Pass(NamedTuple):
    """One sweep: its numbers, its cutter, whose it is, and where to write what it took off."""

    s: np.ndarray
    p: np.ndarray
    pieces: np.ndarray
    path: int
    move: int
    act: int
    sill: np.float32
    found: np.ndarray


loops = Loops(__file__, globals())
helper = loops.helper()
once = loops.helper(inline="always")  # what has one caller: compiled as a part of it
within = loops.helper(forceinline=True)  # for every row
summing = loops.helper(fastmath={"reassoc"})  # in any order

NEVER = np.float32(np.inf)
NOISE = np.float32(4e-6)  # less than this is the rounding of float32, not a cut
TOUCHES = 1e-5  # mm beyond its rim within which a cutter on a bowed chord still meets a cell
AT_ONCE = 128  # cells under a slope that are looked at before any of them is lowered
WIDE_STRIP = 32  # cells that a cutter reaches out, from which its passes across the rows are strips of them
SCRAPED = np.float32(0.01 + 1e-6)  # a rapid touches what stands more than 0.01 above it


# --- a run of cells in one row -------------------------------------------------------------------
@summing
def _excess(row, z, sill):
    """(sum, count, bits of the greatest) of what stands more than `sill` above z. NaN stands nowhere."""
    total, count, most = 0.0, np.int32(0), np.int32(0)
    for i in range(row.size):
        d = row[i] - z[i]
        over = d > sill
        total += np.float64(row[i]) - np.float64(z[i]) if over else 0.0
        count = np.int32(count + np.int32(1)) if over else count
        bits = np.float32(d).view(np.int32) if over else np.int32(0)  # positive floats order as their bits do
        most = bits if bits > most else most
    return total, count, most


@helper
def _greatest_excess(row, z, sill):
    """Bits of the greatest excess over one height, and whether all cells of the row are equal."""
    most, unlike, first = np.int32(0), np.int32(0), np.float32(row[0]).view(np.int32)
    for i in range(row.size):
        d = row[i] - z
        bits = np.float32(d).view(np.int32) if d > sill else np.int32(0)
        most = bits if bits > most else most
        unlike = np.int32(unlike | (np.float32(row[i]).view(np.int32) ^ first))
    return most, unlike == 0


@summing
def _lower_level(row, mark, z, sill, move):
    """Lower to one height; (sum, count) of what that took off."""
    total, count = 0.0, np.int32(0)
    for i in range(row.size):
        over = row[i] - z > sill
        total += np.float64(row[i]) - np.float64(z) if over else 0.0
        count = np.int32(count + np.int32(1)) if over else count
        row[i] = z if over else row[i]
        mark[i] = move if over else mark[i]
    return total, count


@helper
def _in_order(bits):
    """A float's bits to an integer that orders as the float does, and back."""
    return np.int32(bits ^ ((bits >> 31) & 0x7FFFFFFF))


@helper
def _greatest_excess_of_each(row, z, sill):
    """Bits of the greatest excess over a height for each cell."""
    most = np.int32(0)
    for i in range(row.size):
        d = row[i] - z[i]
        bits = np.float32(d).view(np.int32) if d > sill else np.int32(0)
        most = bits if bits > most else most
    return most


@summing
def _lower(row, mark, z, sill, move):
    """Lower to a height for each cell; (sum, count) of what that took off, ordered bits of the lowest."""
    total, count, least = 0.0, np.int32(0), np.int32(0x7FFFFFFF)
    for i in range(row.size):
        over = row[i] - z[i] > sill
        total += np.float64(row[i]) - np.float64(z[i]) if over else 0.0
        count = np.int32(count + np.int32(1)) if over else count
        bits = _in_order(np.float32(z[i]).view(np.int32)) if over else np.int32(0x7FFFFFFF)
        least = bits if bits < least else least
        row[i] = z[i] if over else row[i]
        mark[i] = move if over else mark[i]
    return total, count, least


@helper
def _float(bits):
    return np.float64(np.int32(bits).view(np.float32))


@helper
def _look_at(row):
    """The highest cell of a row (-inf: all off the board), and whether all are equal."""
    most, unlike, first = np.int32(-0x7FFFFFFF), np.int32(0), np.float32(row[0]).view(np.int32)
    for i in range(row.size):
        bits = np.float32(row[i]).view(np.int32)
        unlike = np.int32(unlike | (bits ^ first))
        bits = _in_order(bits) if row[i] == row[i] else np.int32(-0x7FFFFFFF)
        most = bits if bits > most else most
    return (_float(_in_order(most)) if most > np.int32(-0x7FFFFFFF) else -np.inf), unlike == 0


@helper
def _first_at(row, z, step, most):
    """Where the greatest excess stands; z has a height for each cell (step 1) or one for all (step 0)."""
    for i in range(row.size):
        d = row[i] - z[i * step]
        if np.float32(d).view(np.int32) == most:
            return i
    return 0


@helper
def _still_to_do(g, j, i0, i1, z):
    """Cells i0 to i1 of row j less those at their ends that are known to lie no higher than z."""
    r = j - g.j0
    if g.done[r] <= z:
        begin, past = int(g.begin[r]), int(g.past[r])
        i0 = past if begin <= i0 < past else i0
        i1 = begin - 1 if begin <= i1 < past else i1
    return i0, i1


@helper
def _now_done(g, j, i0, i1, z):
    """Cells i0 to i1 of row j lie no higher than z: one run with what is known to be done beside them."""
    r = j - g.j0
    begin, past = float(i0), float(i1 + 1)
    if g.done[r] == z and begin <= g.past[r] and past >= g.begin[r]:
        begin, past = min(begin, g.begin[r]), max(past, g.past[r])
    g.done[r], g.begin[r], g.past[r] = z, begin, past
    if begin == g.i0 and past == g.i1 + 1:
        g.tops[r] = min(g.tops[r], z)


@helper
def _cover_level(g, w, j, i0, i1, height):
    """One height over cells i0 to i1 of row j."""
    z, first, last = np.float32(height), i0, i1
    i0, i1 = _still_to_do(g, j, i0, i1, np.float64(z))
    if i0 <= i1 and _lower_to(g, w, j, i0, i1, z):
        _now_done(g, j, first, last, np.float64(z))


@helper
def _lower_to(g, w, j, i0, i1, z):
    """Lower cells i0 to i1 of row j to one height; whether some were, each as far as it goes."""
    row, mark, n, found = g.heights[j, i0:i1 + 1], g.last[j, i0:i1 + 1], i1 + 1 - i0, w.found
    even = g.even[j - g.j0] > 0.0
    if even:
        d = row[0] - z
        most = np.float32(d).view(np.int32) if d > w.sill else np.int32(0)
    else:
        most, even = _greatest_excess(row, z, w.sill)
    if most == 0:
        return False
    if _float(most) > found[DEPTH]:
        g.z[i0 - g.i0] = z
        first = i0 + _first_at(row, g.z[i0 - g.i0:], 0, most)
        found[DEPTH], found[AT_I], found[AT_J] = _float(most), first, j
    if w.act == LOOK:
        return False
    found[LOWEST] = min(found[LOWEST], np.float64(z))
    if even:
        found[VOLUME] += n * (np.float64(row[0]) - np.float64(z))
        found[CELLS] += n
        for i in range(n):
            row[i] = z
            mark[i] = w.move
    else:
        total, count = _lower_level(row, mark, z, w.sill, w.move)
        found[VOLUME] += total
        found[CELLS] += count
    g.even[j - g.j0] = 1.0 if even and i0 == g.i0 and i1 == g.i1 else 0.0
    return w.act != SCRAPE


@helper
def _cover(g, w, j, i0, i1):
    """The heights in g.z over cells i0 to i1 of row j, some cells at a time."""
    found = w.found
    while i0 <= i1:
        stop = min(i1 + 1, i0 + AT_ONCE)
        row, z = g.heights[j, i0:stop], g.z[i0 - g.i0:stop - g.i0]
        most = _greatest_excess_of_each(row, z, w.sill)
        if _float(most) > found[DEPTH]:
            found[DEPTH], found[AT_I], found[AT_J] = _float(most), i0 + _first_at(row, z, 1, most), j
        if most > 0 and w.act != LOOK:
            total, count, least = _lower(row, g.last[j, i0:stop], z, w.sill, w.move)
            found[VOLUME] += total
            found[CELLS] += count
            found[LOWEST] = min(found[LOWEST], _float(_in_order(least)))
            g.even[j - g.j0] = 0.0
        i0 = stop


# --- which cells of a row ------------------------------------------------------------------------
@helper
def _cells(lo, hi, x0, cell, i0, i1):
    """First and last cell of i0 to i1 whose centre lies from lo to hi."""
    if not lo <= hi:
        return i0, i0 - 1
    first = ceil((max(lo, x0 + (i0 - 1) * cell) - x0) / cell - 0.5)
    last = floor((min(hi, x0 + (i1 + 2) * cell) - x0) / cell - 0.5)
    return max(i0, first), min(i1, last)


@helper
def _disc(x, y, radius, row_y):
    """Where the row crosses a disc: lo, hi (lo > hi: nowhere)."""
    d = radius * radius - (row_y - y) * (row_y - y)
    if d < 0.0:
        return np.inf, -np.inf
    half = sqrt(d)
    return x - half, x + half


@helper
def _crosses(s, row_y):
    """Whether a straight path runs across the row: all such rows meet the same cells."""
    return s[DX] == 0.0 and 0.0 <= (row_y - s[SY]) * s[DY] <= s[L]


@helper
def _capsule(s, radius, row_y):
    """Where the row crosses all that lies within `radius` of a straight path."""
    if _crosses(s, row_y):
        return s[SX] - radius, s[SX] + radius
    lo, hi = _disc(s[SX], s[SY], radius, row_y)
    if s[L] > 0.0:
        lo2, hi2 = _disc(s[EX], s[EY], radius, row_y)
        lo, hi = min(lo, lo2), max(hi, hi2)
        dx, dy, y = s[DX], s[DY], row_y - s[SY]
        near, far = -np.inf, np.inf
        if abs(dx) > 1e-12:  # 0 <= x·dx + y·dy <= L
            near, far = _sorted(-y * dy / dx, (s[L] - y * dy) / dx)
        elif y * dy < 0.0 or y * dy > s[L]:
            return lo, hi
        if abs(dy) > 1e-12:  # -radius <= y·dx - x·dy <= radius
            near2, far2 = _sorted((y * dx - radius) / dy, (y * dx + radius) / dy)
            near, far = max(near, near2), min(far, far2)
        elif abs(y * dx) > radius:
            return lo, hi
        if near <= far:
            lo, hi = min(lo, s[SX] + near), max(hi, s[SX] + far)
    return lo, hi


@helper
def _sorted(a, b):
    return (a, b) if a < b else (b, a)


@helper
def _half_line(c, d):
    """The x with c·x + d >= 0."""
    if c > 0.0:
        return -d / c, np.inf
    if c < 0.0:
        return -np.inf, -d / c
    return (-np.inf, np.inf) if d >= 0.0 else (np.inf, -np.inf)


# --- straight paths ------------------------------------------------------------------------------
@helper
def _bull_reach(v, steep, a, f, outer):
    """How far behind the axis a rounded corner is lowest: the root of a convex function, guarded Newton.

    e is the distance past the flat: e²(rho² - v²) = steep²·rho²·(f² - e²), rho = a + e.
    """
    low, high = max(0.0, abs(v) - a), f
    if abs(v) >= outer:
        return 0.0
    q, vv = steep * steep, v * v
    e = min(high, max(low, f * steep / sqrt(1.0 + q)))
    for _ in range(60):
        rho = a + e
        left, right = rho * rho - vv, q * rho * rho
        value = e * e * left - right * (f * f - e * e)
        if value > 0.0:
            high = e
        else:
            low = e
        slope = 2.0 * e * left + 2.0 * e * e * rho - 2.0 * q * rho * (f * f - e * e) + 2.0 * right * e
        step = e - value / slope if slope > 0.0 else low - 1.0
        if not low < step < high:
            step = 0.5 * (low + high)
        if abs(step - e) < 1e-10 or high - low < 1e-12:
            break
        e = step
    rho = a + e
    return sqrt(max(0.0, rho * rho - vv))


@helper
def _reaches(out, n, v0, dv, steep, p):
    """How far behind the axis the round is lowest, for cells at v0, v0 + dv, …: a function of v alone."""
    outer, a, f, k = p[R], p[A], p[F], p[K]
    if a >= outer:  # flat: as far behind as it reaches
        for i in range(n):
            v = v0 + i * dv
            out[i] = sqrt(max(0.0, outer * outer - v * v))
    elif f > 0.0 and a <= 0.0:  # ball
        tilt = steep / sqrt(1.0 + steep * steep)
        for i in range(n):
            v = v0 + i * dv
            out[i] = tilt * sqrt(max(0.0, f * f - v * v))
    elif f > 0.0:  # bull
        for i in range(n):
            v = v0 + i * dv
            if i > 0 and dv == 0.0:
                out[i] = out[0]
            elif steep > 0.0:
                out[i] = _bull_reach(v, steep, a, f, outer)
            else:
                out[i] = sqrt(max(0.0, a * a - v * v))
    elif k > steep:  # cone: where its flank rises as the path does, but not within the flat
        lean = steep / sqrt(k * k - steep * steep)
        for i in range(n):
            v = v0 + i * dv
            flank, flat = lean * abs(v), sqrt(max(0.0, a * a - v * v))
            rim = sqrt(max(0.0, outer * outer - v * v))
            out[i] = min(rim, max(flank, flat))
    else:  # the path rises more steeply than the cone
        for i in range(n):
            v = v0 + i * dv
            out[i] = sqrt(max(0.0, outer * outer - v * v))


@helper
def _straight_heights(z, reach, n, u0, du, v0, dv, s, p, along, across):
    """The least height of the cutter's lower surface at n cells over which it passes somewhere."""
    length, base, climb = s[L], s[SZ] + p[LIFT], s[M]
    a, f, k, core = p[A], p[F], p[K], p[C]
    ff = f * f
    if a >= p[R]:
        for i in range(n):
            u, v = u0 + i * du, v0 + i * dv
            t = min(length, max(0.0, u - reach[i]))
            z[i] = base + climb * t + along * (u - t) + across * v
    else:
        for i in range(n):
            u, v = u0 + i * du, v0 + i * dv
            t = min(length, max(0.0, u - reach[i]))
            rho = sqrt((u - t) * (u - t) + v * v)
            e = max(0.0, rho - a)
            rise = k * e + f - sqrt(max(0.0, ff - e * e))
            z[i] = base + climb * t + along * (u - t) + across * v + rise
    if core > 0.0:
        _leave_core(z, n, u0, du, v0, dv, s, p, reach, along, across)


@within
def _is_bowed(s):
    return s[L] > 0.0 and (s[BX] != 0.0 or s[BY] != 0.0 or s[BZ] != 0.0)


@helper
def _bowed_heights(z, reach, n, u0, du, v0, dv, s, p, along, across):
    """As _straight_heights, along a bowed chord: the lowest of where the edge of the flat or the rim meets or
    leaves a cell, of where the straight line says, and of where parabolas over the chord are lowest."""
    length, bend = s[L], 4.0 / (s[L] * s[L])
    back, left = s[BX] * s[DX] + s[BY] * s[DY], s[BY] * s[DX] - s[BX] * s[DY]
    outer, a, f, k, base = p[R], p[A], p[F], p[K], s[SZ] + p[LIFT]
    bow, under = (length, bend, back, left, s[M], s[BZ]), (along, across, outer, a, f, k)
    for i in range(n):
        z[i] = NEVER
    for edge in range(6):
        radius, side = a if edge < 2 else outer, -1.0 if edge % 2 == 0 else 1.0
        if (edge < 2 and (a <= 0.0 or a >= outer)) or (2 <= edge < 4 and f > 0.0) or (edge >= 4 and k <= 0.0):
            continue  # there is no such edge, or an upright flank, which no path leaves a cell at
        for i in range(n):
            u, v = u0 + i * du, v0 + i * dv
            t = min(length, max(0.0, u + side * sqrt(max(0.0, radius * radius - v * v))))
            v2 = v - bend * t * (length - t) * left
            far = reach[i] if edge >= 4 else sqrt(max(0.0, radius * radius - v2 * v2))
            at, slope = u + side * far, 1.0 + bend * back * length  # t + bend·back·t·(length - t) = at
            root = max(1e-9, slope + sqrt(max(0.0, slope * slope - 4.0 * bend * back * at)))
            rho, height = _bowed(min(length, max(0.0, 2.0 * at / root)), u, v, bow, under)
            z[i] = min(z[i], base + height if rho <= outer + TOUCHES else np.inf)
    for i in range(n):
        reach[i] = 0.5 * length
    for turn in range(3):
        wide = 0.5 * length if turn == 0 else (0.0625 * length if turn == 1 else 0.0)
        for i in range(n):
            t, u, v = reach[i], u0 + i * du, v0 + i * dv
            _, first = _bowed(t - wide, u, v, bow, under)
            rho, half = _bowed(t, u, v, bow, under)
            _, last = _bowed(t + wide, u, v, bow, under)
            z[i] = min(z[i], base + half if rho <= outer else np.inf)
            t += 0.5 * wide * min(2.0, max(-2.0, (first - last) / max(1e-12, first - 2.0 * half + last)))
            reach[i] = min(length, max(0.0, t))


@within
def _bowed(t, u, v, bow, under):
    """How far from a cell the axis stands at t of a bowed chord, and the cutter's height over the cell."""
    (length, bend, back, left, climb, rise), (along, across, outer, a, f, k) = bow, under
    off = bend * t * (length - t)
    u, v = u - t - off * back, v - off * left
    rho = sqrt(u * u + v * v)
    e = max(0.0, min(rho, outer) - a)
    flank = k * e + f - sqrt(max(0.0, f * f - e * e))
    return rho, climb * t + off * rise + along * u + across * v + flank


@helper
def _leave_core(z, n, u0, du, v0, dv, s, p, reach, along, across):
    """Where only the core stood at its lowest, the ring comes later, or never."""
    length, core = s[L], p[C]
    e = max(0.0, core - p[A])
    rise = p[K] * e + p[F] - sqrt(max(0.0, p[F] * p[F] - e * e))
    for i in range(n):
        u, v = u0 + i * du, v0 + i * dv
        t = min(length, max(0.0, u - reach[i]))
        inside = core * core - v * v - (u - t) * (u - t)
        if inside > 1e-9:
            later = u + sqrt(core * core - v * v)
            at = s[SZ] + p[LIFT] + s[M] * later + along * (u - later) + across * v + rise
            z[i] = at if later <= length else NEVER


@within
def _straight(g, w, j, row_y):
    """One row under a straight sweep: cells at one height in the middle, at heights of their own beside."""
    s, p, crosses = w.s, w.p, _crosses(w.s, row_y)
    if crosses and g.memo[2] >= 0.0:
        i0, i1 = int(g.memo[2]), int(g.memo[3])
    else:
        lo, hi = _capsule(s, p[R], row_y)
        i0, i1 = _cells(lo, hi, g.x0, g.cell, g.i0, g.i1)
        g.memo[2], g.memo[3] = (i0, i1) if crosses else (-1.0, -1.0)
    if i0 > i1:
        return
    k0, k1, height, level = i1 + 1, i1, s[SZ], s[M] == 0.0 and not _is_bowed(s)
    if p[A] > 0.0 and level and p[GX] == 0.0 and p[GY] == 0.0:  # under the flat of a level sweep
        k0, k1 = i0, i1
        if p[A] < p[R]:
            lo, hi = _capsule(s, p[A], row_y)
            k0, k1 = _cells(lo, hi, g.x0, g.cell, i0, i1)
    q0, q1 = _under_core(g, w, row_y, k0, k1)
    if k0 > k1:
        k0, k1 = i1 + 1, i1
        if s[DY] == 0.0 and level and p[P1] <= p[P0]:  # along the row: the same all the way
            k0, k1, height = _steady(g, s, p, row_y, i0, i1)
        q0, q1 = k0, k0 - 1
    for side in range(2):
        a, b = (i0, k0 - 1) if side == 0 else (k1 + 1, i1)
        if a <= b:
            _straight_run(g, w, j, row_y, a, b, side)
        a, b = (k0, q0 - 1) if side == 0 else (q1 + 1, k1)
        _cover_level(g, w, j, a, b, height)


@helper
def _under_core(g, w, row_y, i0, i1):
    """The cells that only the core passes over: under it at both ends."""
    s, core = w.s, w.p[C]
    if core > 0.0 and s[L] < 2.0 * core:
        lo, hi = _disc(s[SX], s[SY], core, row_y)
        lo2, hi2 = _disc(s[EX], s[EY], core, row_y)
        q0, q1 = _cells(max(lo, lo2), min(hi, hi2), g.x0, g.cell, i0, i1)
        if q0 <= q1:
            return q0, q1
    return i0, i0 - 1


@helper
def _steady(g, s, p, row_y, i0, i1):
    """The cells that one part of the cutter meets, well within a level path along the row, and how high that
    part stands. None: first past last."""
    u0, du = (g.x0 + (i0 + 0.5) * g.cell - s[SX]) * s[DX], g.cell * s[DX]
    v, along = (row_y - s[SY]) * s[DX], p[GX] * s[DX]
    _reaches(g.reach, np.int64(1), v, 0.0, -along, p)  # a plain 1 would be a type of its own
    reach = g.reach[0]
    if hypot(reach, v) < p[C]:
        return i1 + 1, i1, 0.0
    e = max(0.0, hypot(reach, v) - p[A])
    above = along * reach + p[K] * e + p[F] - sqrt(max(0.0, p[F] * p[F] - e * e))
    lo, hi = _sorted((reach - u0) / du, (s[L] + reach - u0) / du)  # where the path began and ended beside it
    k0, k1 = max(i0, i0 + ceil(max(lo, 0.0)) + 1), min(i1, i0 + floor(min(hi, float(i1 - i0))) - 1)
    if k0 >= k1:
        return i1 + 1, i1, 0.0
    return k0, k1, s[SZ] + p[LIFT] + p[GY] * s[DX] * v + above


@helper
def _straight_run(g, w, j, row_y, i0, i1, side):
    """Cells i0 to i1 of a row, each at a height of its own; the path's `side` on which they lie."""
    a, b = _well_within(g, w, row_y, i0, i1)
    for part in range(3):
        first, last = (a, b) if part == 0 else ((i0, a - 1) if part == 1 else (b + 1, i1))
        if first <= last:
            _own_heights(g, w, j, row_y, first, last, part == 0, 4 * side)
            _cover(g, w, j, first, last)


@helper
def _well_within(g, w, row_y, i0, i1):
    """The cells that a leaning flat passes over wholly on a level path; none where they are few."""
    s, p = w.s, w.p
    if p[A] >= p[R] and s[M] == 0.0 and s[DX] != 0.0 and (p[GX] != 0.0 or p[GY] != 0.0) and not _is_bowed(s):
        y = (row_y - s[SY]) * s[DY]
        lo, hi = _sorted(s[SX] + (p[R] - y) / s[DX], s[SX] + (s[L] - y) / s[DX])
        a, b = _cells(lo, hi, g.x0, g.cell, i0, i1)
        if b - a >= AT_ONCE:
            return a, b
    return i0, i0 - 1


@helper
def _leaning_heights(g, w, j, n, v0, z, i0, along, across):
    """The heights of n cells, i0 and on, well within the level path of a leaning flat: its rim leaves each as
    high as its distance from the path tells. They are convex over a row, so that the middle and its slope
    tell of some cells at a time that they lie lower already: these get none."""
    s, p, size = w.s, w.p, g.cell * w.s[DY]
    base, dip, lean = np.float32(s[SZ] + p[LIFT]), np.float32(-along), np.float32(across)
    radius, dv = np.float32(p[R]), np.float32(-size)
    for first in range(0, n, AT_ONCE):
        stop = min(n, first + AT_ONCE)
        half = 0.5 * (stop - 1 - first) * size
        start = v0 - first * size
        middle = start - half
        deep = sqrt(max(1e-6, p[R] * p[R] - middle * middle))
        least = across * middle + along * deep - abs((across - along * middle / deep) * half)
        if _highest(g.heights[j, i0 + first:i0 + stop]) > s[SZ] + p[LIFT] + least:
            part, from_path = z[first:stop], np.float32(start)
            for i in range(part.size):
                v = from_path + np.float32(i) * dv
                part[i] = base + lean * v - dip * np.sqrt(max(np.float32(0.0), (radius - v) * (radius + v)))
        else:
            for i in range(first, stop):
                z[i] = NEVER


@helper
def _highest(row):
    """The highest cell of a row (-inf: all off the board)."""
    most = np.int32(-0x7FFFFFFF)
    for i in range(row.size):
        bits = _in_order(np.float32(row[i]).view(np.int32)) if row[i] == row[i] else np.int32(-0x7FFFFFFF)
        most = bits if bits > most else most
    return _float(_in_order(most)) if most > np.int32(-0x7FFFFFFF) else -np.inf


@helper
def _own_heights(g, w, j, row_y, i0, i1, within_path, slot):
    """Fills in the heights of cells i0 to i1 of a row, where the row before has not left them there."""
    s, p, n, z = w.s, w.p, i1 + 1 - i0, g.z[i0 - g.i0:i1 + 1 - g.i0]
    x, y = g.x0 + (i0 + 0.5) * g.cell - s[SX], row_y - s[SY]
    dx, dy = s[DX], s[DY]
    u0, du, v0, dv = x * dx + y * dy, g.cell * dx, y * dx - x * dy, -g.cell * dy
    along, across, bowed = p[GX] * dx + p[GY] * dy, p[GY] * dx - p[GX] * dy, _is_bowed(s)
    # across the row, well within a level path
    steady = du == 0.0 and s[M] == 0.0 and p[R] <= u0 <= s[L] and not bowed
    if steady and g.memo[slot] == i0 and g.memo[slot + 1] == i1:
        return
    g.memo[slot], g.memo[slot + 1] = (i0, i1) if steady else (-1.0, -1.0)
    if within_path:
        _leaning_heights(g, w, j, n, v0, z, i0, along, across)
    elif bowed:
        if p[K] > 0.0:
            _reaches(g.reach, n, v0, dv, s[M] - along, p)
        _bowed_heights(z, g.reach, n, u0, du, v0, dv, s, p, along, across)
    elif p[P1] > p[P0]:
        for i in range(n):
            z[i] = _rings_straight(u0 + i * du, v0 + i * dv, s, p, w.pieces, along, across)
    else:
        _reaches(g.reach, n, v0, dv, s[M] - along, p)
        _straight_heights(z, g.reach, n, u0, du, v0, dv, s, p, along, across)


@helper
def _rings_straight(u, v, s, p, pieces, along, across):
    """The least height of a polyline of rings at a cell: each ring, before and behind the axis, by itself."""
    steep = s[M] - along
    best = np.inf
    for k in range(int(p[P0]), int(p[P1])):
        r0, r1, h0, h1 = pieces[k, R0], pieces[k, R1], pieces[k, H0], pieces[k, H1]
        if abs(v) > r1:
            continue
        inner, outer = sqrt(max(0.0, r0 * r0 - v * v)), sqrt(r1 * r1 - v * v)
        slope = (h1 - h0) / (r1 - r0) if r1 > r0 else 0.0
        lean = steep * abs(v) / sqrt(slope * slope - steep * steep) if slope > abs(steep) else outer
        for side in (-1.0, 1.0):
            low, high = _sorted(side * inner, side * outer)
            low, high = max(low, -u), min(high, s[L] - u)
            if low > high + 1e-12:
                continue
            for w in (low, high, min(high, max(low, -lean))):
                rho = hypot(w, v)
                rise = h0 + slope * (rho - r0)
                best = min(best, s[SZ] + p[LIFT] + s[M] * (u + w) - along * w + across * v + rise)
    return best


# --- arcs ----------------------------------------------------------------------------------------
@helper
def _in_sector(x, y, s, path):
    """Whether the direction (x, y) from the centre lies in the arc's turn."""
    if path == FULL:
        return True
    ax, ay, bx, by = s[SX] - s[CX], s[SY] - s[CY], s[EX] - s[CX], s[EY] - s[CY]
    after, before = ax * y - ay * x >= 0.0, x * by - y * bx >= 0.0
    return (after and before) if path == NARROW else (after or before)


@helper
def _least_between(p, pieces, near, far):
    """The least height of the lower surface from radius `near` to `far`."""
    if p[P1] <= p[P0]:
        if far < p[C]:
            return np.inf
        e = max(0.0, max(near, p[C]) - p[A])
        return p[K] * e + p[F] - sqrt(max(0.0, p[F] * p[F] - e * e))
    best = np.inf
    for k in range(int(p[P0]), int(p[P1])):
        r0, r1, h0, h1 = pieces[k, R0], pieces[k, R1], pieces[k, H0], pieces[k, H1]
        low, high = max(near, r0), min(far, r1)
        if low <= high:
            slope = (h1 - h0) / (r1 - r0) if r1 > r0 else 0.0
            best = min(best, h0 + slope * (low - r0), h0 + slope * (high - r0))
    return best


@helper
def _wider_than_core(s, core, path):
    """No place can have the whole arc under the core."""
    half = s[AR] if path != NARROW else 0.5 * hypot(s[EX] - s[SX], s[EY] - s[SY])
    return half > core + 1e-9


@helper
def _half_angle(rho, radius, reach):
    """How far along a circle of `radius`, from the place nearest to a cell at rho, `reach` still meets it."""
    if rho * radius <= 1e-12:
        return np.pi if max(rho, radius) <= reach else 0.0
    c = (rho * rho + radius * radius - reach * reach) / (2.0 * rho * radius)
    return np.pi if c <= -1.0 else (0.0 if c >= 1.0 else acos(c))


@helper
def _first_angle(start, width):
    """The least angle from 0 up that lies, whole turns apart, from `start` to `start` + `width`."""
    turn = 2.0 * np.pi
    start -= turn * floor(start / turn)
    return 0.0 if start + width >= turn else start


@once
def _helix_run(g, w, j, row_y, i0, i1):
    """Cells under a flat cutter that climbs along an arc: the lower they are met, the lower they are left."""
    s, p = w.s, w.p
    low_x, low_y, base = (s[SX], s[SY], s[SZ]) if s[M] > 0.0 else (s[EX], s[EY], s[SZ] + s[M] * s[L])
    low, climb, turn = atan2(low_y - s[CY], low_x - s[CX]), abs(s[M]), 1.0 if s[M] > 0.0 else -1.0
    for i in range(i1 + 1 - i0):
        x, y = g.x0 + (i0 + i + 0.5) * g.cell, row_y
        rho, along = hypot(x - s[CX], y - s[CY]), turn * (atan2(y - s[CY], x - s[CX]) - low)
        half, core = _half_angle(rho, s[AR], p[R]), _half_angle(rho, s[AR], p[C]) if p[C] > 0.0 else 0.0
        at = min(_first_angle(along - half, half - core), _first_angle(along + core, half - core))
        at = np.inf if core >= np.pi else at  # the whole arc lies under the core
        g.z[i0 - g.i0 + i] = np.float32(base + climb * at) if at <= s[L] else NEVER
    _cover(g, w, j, i0, i1)


@helper
def _arc_run(g, w, j, row_y, lo, hi):
    """The cells of a row from lo to hi, all of which the sweep covers."""
    i0, i1 = _cells(lo, hi, g.x0, g.cell, g.i0, g.i1)
    if i0 > i1:
        return
    s, p, path = w.s, w.p, w.path
    if s[M] != 0.0:
        _helix_run(g, w, j, row_y, i0, i1)
        return
    if p[A] >= p[R] and (p[C] <= 0.0 or _wider_than_core(s, p[C], path)):
        _cover_level(g, w, j, i0, i1, s[SZ])
        return
    for i in range(i1 + 1 - i0):
        x, y = g.x0 + (i0 + i + 0.5) * g.cell, row_y
        near, far = hypot(x - s[SX], y - s[SY]), hypot(x - s[EX], y - s[EY])
        near, far = _sorted(near, far)
        x, y = x - s[CX], y - s[CY]
        if _in_sector(x, y, s, path):
            near = abs(hypot(x, y) - s[AR])
        if _in_sector(-x, -y, s, path):
            far = hypot(x, y) + s[AR]
        g.z[i0 - g.i0 + i] = s[SZ] + _least_between(p, w.pieces, min(near, p[R]), min(far, p[R]))
    _cover(g, w, j, i0, i1)


@once
def _arc(g, w, j, row_y):
    """One row under an arc: its end discs, and the annulus within its turn. Overlaps do no harm."""
    s, outer = w.s, w.p[R]
    lo, hi = _disc(s[SX], s[SY], outer, row_y)
    _arc_run(g, w, j, row_y, lo, hi)
    lo, hi = _disc(s[EX], s[EY], outer, row_y)
    _arc_run(g, w, j, row_y, lo, hi)
    lo, hi = _disc(s[CX], s[CY], s[AR] + outer, row_y)
    if lo > hi:
        return
    hole_lo, hole_hi = _disc(s[CX], s[CY], s[AR] - outer, row_y) if s[AR] > outer else (np.inf, -np.inf)
    y = row_y - s[CY]
    lo1, hi1 = _half_line(s[CY] - s[SY], (s[SX] - s[CX]) * y)  # after the start
    lo2, hi2 = _half_line(s[EY] - s[CY], (s[CX] - s[EX]) * y)  # before the end
    if w.path == NARROW:
        lo1, hi1, lo2, hi2 = max(lo1, lo2), min(hi1, hi2), np.inf, -np.inf
    elif w.path == FULL:
        lo1, hi1, lo2, hi2 = -np.inf, np.inf, np.inf, -np.inf
    for k in range(4):
        turn_lo, turn_hi = (lo1, hi1) if k < 2 else (lo2, hi2)
        ring_lo, ring_hi = lo, hi
        if hole_lo <= hole_hi:
            ring_lo, ring_hi = (lo, hole_lo) if k % 2 == 0 else (hole_hi, hi)
        elif k % 2 == 1:
            continue
        _arc_run(g, w, j, row_y, max(ring_lo, turn_lo + s[CX]), min(ring_hi, turn_hi + s[CX]))


# --- tiles ---------------------------------------------------------------------------------------
@helper
def _box(s, p, path):
    """The rectangle that a sweep stays within: x, x, y, y."""
    lo_x, hi_x = _sorted(s[SX], s[EX])
    lo_y, hi_y = _sorted(s[SY], s[EY])
    if path != STRAIGHT:
        r = s[AR]
        hi_x = max(hi_x, s[CX] + r) if _in_sector(1.0, 0.0, s, path) else hi_x
        lo_x = min(lo_x, s[CX] - r) if _in_sector(-1.0, 0.0, s, path) else lo_x
        hi_y = max(hi_y, s[CY] + r) if _in_sector(0.0, 1.0, s, path) else hi_y
        lo_y = min(lo_y, s[CY] - r) if _in_sector(0.0, -1.0, s, path) else lo_y
    return lo_x - p[R], hi_x + p[R], lo_y - p[R], hi_y + p[R]


@helper
def _clip(s, lo, hi, lo_y, hi_y):
    """Narrow an x range to where a straight path runs through rows lo_y to hi_y."""
    if abs(s[DY]) * s[L] < 1e-9:
        return lo, hi
    t0, t1 = _sorted((lo_y - s[SY]) / s[DY], (hi_y - s[SY]) / s[DY])
    t0, t1 = max(0.0, t0), min(s[L], t1)
    a, b = _sorted(s[SX] + t0 * s[DX], s[SX] + t1 * s[DX])
    return max(lo, a), min(hi, b)


@loops.entry("i8(f8[:,::1], i4[:,::1], f8[:,::1], f8, f8, f8, i8, i8, i8, i8, i8[::1], i4[::1], b1)")
def bin_sweeps(sweeps, orders, rounds, x0, y0, cell, ny, nx, tile_rows, tile_cols, starts, pairs, fill):
    """Which sweeps meet which tiles, tile by tile, each tile's sweeps in order.

    First call (fill false): counts into starts[tile + 1], (tiles + 1,). Second: `starts` holds offsets and
    is used up; `pairs` receives sweep rows. Returns the number of pairs.
    """
    across = (nx + tile_cols - 1) // tile_cols
    total = 0
    for k in range(len(sweeps)):
        s, p, path = sweeps[k], rounds[orders[k, ROUND]], orders[k, PATH]
        lo_x, hi_x, lo_y, hi_y = _box(s, p, path)
        j0, j1 = _cells(lo_y, hi_y, y0, cell, 0, ny - 1)
        if j0 > j1:
            continue
        for row in range(j0 // tile_rows, j1 // tile_rows + 1):
            lo, hi = lo_x, hi_x
            if path == STRAIGHT:
                top = y0 + min(ny, (row + 1) * tile_rows) * cell
                lo, hi = _clip(s, lo_x + p[R], hi_x - p[R], y0 + row * tile_rows * cell - p[R], top + p[R])
                lo, hi = lo - p[R], hi + p[R]
            i0, i1 = _cells(lo, hi, x0, cell, 0, nx - 1)
            if i0 > i1:
                continue
            for col in range(i0 // tile_cols, i1 // tile_cols + 1):
                tile = row * across + col
                if fill:
                    pairs[starts[tile]] = k
                    starts[tile] += 1
                else:
                    starts[tile + 1] += 1
                total += 1
    return total


@helper
def _fetched(mark):
    """Reads a row's marks from end to end, so that strips of it need not wait for memory one by one."""
    some = np.int32(0)
    for i in range(mark.size):
        some |= mark[i]
    return some


@once
def _sweep(g, w, j0, j1):
    """One sweep over rows j0 to j1 of a tile."""
    _, _, lo_y, hi_y = _box(w.s, w.p, w.path)
    j0, j1 = _cells(lo_y, hi_y, g.y0, g.cell, j0, j1)
    low = np.float64(np.float32(w.s[LOW]))
    g.memo[0] = g.memo[2] = g.memo[4] = -1.0
    strips = w.path == STRAIGHT and w.s[DY] != 0.0 and w.p[R] > WIDE_STRIP * g.cell
    for j in range(j0, j1 + 1):
        if g.tops[j - g.j0] == np.inf:
            g.tops[j - g.j0], even = _look_at(g.heights[j, g.i0:g.i1 + 1])
            g.even[j - g.j0] = 1.0 if even else 0.0
            if strips:
                g.reach[0] = _fetched(g.last[j, g.i0:g.i1 + 1])
        if low >= g.tops[j - g.j0]:
            continue
        row_y = g.y0 + (j + 0.5) * g.cell
        if w.path == STRAIGHT:
            _straight(g, w, j, row_y)
        else:
            _arc(g, w, j, row_y)


@once
def _hold(heights, held, j0, j1, i0, i1):
    """Keep a tile as it is before a move that goes in chords."""
    for j in range(j0, j1 + 1):
        row, keep = heights[j, i0:i1 + 1], held[j - j0]
        for i in range(row.size):
            keep[i] = row[i]


@once
def _settle(heights, held, j0, j1, i0, i1, found):
    """What a move that went in chords took off the tile that was held."""
    found[VOLUME], found[CELLS], found[DEPTH] = 0.0, 0.0, 0.0
    for j in range(j0, j1 + 1):
        before, after = held[j - j0, :i1 + 1 - i0], heights[j, i0:i1 + 1]
        total, count, most = _excess(before, after, np.float32(0.0))
        found[VOLUME] += total
        found[CELLS] += count
        if _float(most) > found[DEPTH]:
            found[DEPTH], found[AT_I], found[AT_J] = _float(most), i0 + _first_at(before, after, 1, most), j


@once
def _met(sweeps, orders, rounds, pairs, x0, y0, cell, j0, j1, i0, i1):
    """The part of a tile that the chords of one move may meet."""
    lo_x, hi_x, lo_y, hi_y = np.inf, -np.inf, np.inf, -np.inf
    for q in pairs:
        a, b, c, d = _box(sweeps[q], rounds[orders[q, ROUND]], orders[q, PATH])
        lo_x, hi_x, lo_y, hi_y = min(lo_x, a), max(hi_x, b), min(lo_y, c), max(hi_y, d)
    j0, j1 = _cells(lo_y, hi_y, y0, cell, j0, j1)
    i0, i1 = _cells(lo_x, hi_x, x0, cell, i0, i1)
    return j0, j1, i0, i1


@loops.entry("void(i8[::1], i8[::1], i4[::1], f8[:,::1], i4[:,::1], f8[:,::1], f8[:,::1], f8, f8, f8,"
             " f4[:,::1], i4[:,::1], f8[:,::1], f4[:,::1], f8[:,::1], f4[::1])")
def sweep_tiles(tiles, starts, pairs, sweeps, orders, rounds, pieces, x0, y0, cell, heights, last, found,
                held, room, z):
    """Let each of `tiles` have its sweeps, in order: lowers `heights`, marks `last`, fills `found` (a row
    for each pair: what the sweep, or for the last of a move's chords the move, took off the tile).

    `held`, of a tile's rows and columns, `room` (7, the longer of the two), and z, as long, are to work in.
    """
    (ny, nx), (tile_rows, tile_cols) = heights.shape, held.shape
    across = (nx + tile_cols - 1) // tile_cols
    tops, even, done, begin, past, reach, memo = (room[0], room[1], room[2], room[3], room[4], room[5],
                                                  room[6])
    for tile in tiles:
        j0, i0 = tile // across * tile_rows, tile % across * tile_cols
        j1, i1 = min(ny, j0 + tile_rows) - 1, min(nx, i0 + tile_cols) - 1
        for row in range(tile_rows):
            tops[row] = done[row] = np.inf
        g = Ground(heights, last, x0, y0, cell, j0, i0, i1, tops, even, done, begin, past, z, reach, memo)
        k = starts[tile]
        while k < starts[tile + 1]:
            q = pairs[k]
            move, act, stop = orders[q, MOVE], orders[q, ACT], k + 1
            sill = SCRAPED if act in (LOOK, SCRAPE) else NOISE
            b0, b1, a0, a1 = j0, j1, i0, i1
            if act == CHORD:
                while stop < starts[tile + 1] and (orders[pairs[stop], MOVE] == move
                                                   and orders[pairs[stop], ACT] == CHORD):
                    stop += 1
                b0, b1, a0, a1 = _met(sweeps, orders, rounds, pairs[k:stop], x0, y0, cell, j0, j1, i0, i1)
                _hold(heights, held, b0, b1, a0, a1)
            for n in range(k, stop):
                q = pairs[n]
                cutter = rounds[orders[q, ROUND]]
                w = Pass(sweeps[q], cutter, pieces, orders[q, PATH], move, act, sill, found[n])
                _sweep(g, w, j0, j1)
            if act == CHORD:
                for n in range(k, stop - 1):
                    found[stop - 1, LOWEST] = min(found[stop - 1, LOWEST], found[n, LOWEST])
                    for column in range(FOUND_NUMBERS):
                        found[n, column] = np.inf if column == LOWEST else 0.0
                _settle(heights, held, b0, b1, a0, a1, found[stop - 1])
            k = stop
