"""How near a moving cutter comes to a body: exact in closed form, or by bounds that close on the answer.

The law: a cutter fills everything above its lower surface, so all that counts is d, the distance in plan
from its axis to the body's outline, and s, the height of its tip above the body's top; the answer falls
as either falls. `v` is that answer over a path: the gap (mm) where it is positive, else the overlap: minus
the height by which the path would have to be raised. Along a straight path the gap is convex and the
raise concave, so both are found by bisection; an arc is split until its chords, shifted by how far
the arc may lie from them, leave no room for a better answer.

A cutter is a union of pieces (r0, h0, r1, h1): a lower edge rising from h0 at radius r0 to h1 at r1, full
within r0; `round` is the radius of a rounded rim beyond r1. A body is (x, y, cos, sin, hx, hy, r, top): a
turned box with half sizes hx, hy grown by r. An opening is (x, y, hx, hy, radius, chamfer, depth).
"""

from __future__ import annotations

import math

from ...parser.compiling.loops import Loops

INF = math.inf
EDGE = 1e-9  # mm: a side touched by less is a contact
CLOSE = 1e-5  # mm: how near bounds have to come before a search ends
FLOOR = 2.5e-10  # mm: an arc this near its chord is its chord
STRIKE = 1e-6  # mm: an overlap beyond this is a strike
HALVINGS = 54
STACK = 256

loops = Loops(__file__, globals())
helper = loops.helper()


@helper
def away(x, y, hx, hy):
    """Distance from a box about the origin."""
    qx, qy = max(abs(x) - hx, 0.0), max(abs(y) - hy, 0.0)
    return math.sqrt(qx * qx + qy * qy)


@helper
def receding(x, y, dx, dy, hx, hy):
    """Half the change of the squared distance from a box along (dx, dy)."""
    qx, qy = max(abs(x) - hx, 0.0), max(abs(y) - hy, 0.0)
    return qx * math.copysign(dx, x * dx) + qy * math.copysign(dy, y * dy)


@helper
def nearest(x, dx, y, dy, hx, hy):
    """Where (0 to 1) a straight path from (x, y) comes nearest to a box."""
    if hx == 0.0 and hy == 0.0:
        square = dx * dx + dy * dy
        return min(max(-(x * dx + y * dy) / square, 0.0), 1.0) if square > 0.0 else 0.0
    if receding(x, y, dx, dy, hx, hy) >= 0.0:
        return 0.0
    low, high = 0.0, 1.0
    for _ in range(HALVINGS):
        t = 0.5 * (low + high)
        if receding(x + t * dx, y + t * dy, dx, dy, hx, hy) < 0.0:
            low = t
        else:
            high = t
    return high


@helper
def gap_at(d, s, r0, h0, r1, h1):
    """Gap of a piece from a body's upper edge, with its change by d and by s."""
    above = s + h0
    if d <= r0:
        return (above, 0.0, 1.0) if above > 0.0 else (0.0, 0.0, 0.0)
    over = s + h1
    if over <= 0.0:
        return (d - r1, 1.0, 0.0) if d > r1 else (0.0, 0.0, 0.0)
    w, h, out = r1 - r0, h1 - h0, d - r0
    if w > 0.0:
        beyond = out * h + above * w
        if beyond <= 0.0:
            return 0.0, 0.0, 0.0
        square = w * w + h * h
        u = (out * w - above * h) / square
        if 0.0 < u < 1.0:
            length = math.sqrt(square)
            return beyond / length, h / length, w / length
        if u >= 1.0:
            out, above = d - r1, over
    gap = math.sqrt(out * out + above * above)
    return (gap, out / gap, above / gap) if gap > 0.0 else (0.0, 0.0, 0.0)


@helper
def rise(d, r0, h0, r1, h1, c):
    """Height of a piece's lower surface at radius d, with its slope there."""
    if d <= r0:
        return h0, 0.0
    if c > 0.0:
        past = min(d - r0, c)
        root = math.sqrt(c * c - past * past)
        return h0 + c - root, (past / root if root > 0.0 else INF)
    slope = (h1 - h0) / (r1 - r0) if r1 > r0 else 0.0
    return h0 + slope * (d - r0), slope


@helper
def value_at(d, s, r0, h0, r1, h1, c, cover):
    """v of a piece that stands still. With `cover`: its height over the body's top, if it is above it."""
    if not cover:
        gap = gap_at(d, s + c, r0, h0, r1, h1)[0] - c
        if gap > 0.0:
            return gap
        if d >= r1 + c - EDGE:
            return 0.0
        return min(s + rise(d, r0, h0, r1, h1, c)[0], 0.0)
    return s + rise(d, r0, h0, r1, h1, c)[0] if d < r1 + c - EDGE else INF


@helper
def crossing(x, dx, y, dy, hx, hy, inside, outside, limit):
    """The last place, going from `inside` to `outside`, nearer to the box than `limit`."""
    if away(x + outside * dx, y + outside * dy, hx, hy) < limit:
        return outside
    for _ in range(HALVINGS):
        t = 0.5 * (inside + outside)
        if away(x + t * dx, y + t * dy, hx, hy) < limit:
            inside = t
        else:
            outside = t
    return inside


@helper
def smallest_gap(x, dx, y, dy, s, ds, hx, hy, r0, h0, r1, h1):
    """The place of a straight path's smallest gap, by the sign of its change."""
    low, high = 0.0, 1.0
    for _ in range(HALVINGS):
        t = 0.5 * (low + high)
        px, py = x + t * dx, y + t * dy
        d = away(px, py, hx, hy)
        gap, by_d, by_s = gap_at(d, s + t * ds, r0, h0, r1, h1)
        if gap == 0.0:
            return t
        change = by_s * ds
        if d > 0.0:
            change += by_d * receding(px, py, dx, dy, hx, hy) / d
        if change < 0.0:
            low = t
        else:
            high = t
    return 0.5 * (low + high)


@helper
def deepest(x, dx, y, dy, ds, hx, hy, r0, h0, r1, h1, c, first, last):
    """The place between first and last where a straight path would have to be raised most."""
    for _ in range(HALVINGS):
        t = 0.5 * (first + last)
        px, py = x + t * dx, y + t * dy
        d = away(px, py, hx, hy)
        change = ds
        if d > 0.0:
            slope = rise(d, r0, h0, r1, h1, c)[1]
            if slope > 0.0:
                change += slope * receding(px, py, dx, dy, hx, hy) / d
        if change < 0.0:
            first = t
        else:
            last = t
    return 0.5 * (first + last)


@helper
def straight(x, dx, y, dy, s, ds, hx, hy, r0, h0, r1, h1, c, cover, cutoff):
    """v of a piece along a straight path, and where; inf where it is not under the cutoff."""
    t = nearest(x, dx, y, dy, hx, hy)
    d = away(x + t * dx, y + t * dy, hx, hy)
    low = s + min(ds, 0.0)
    bound = value_at(d, low, r0, h0, r1, h1, c, cover)
    if bound >= cutoff:
        return INF, t
    if ds == 0.0:
        return bound, t
    if dx == 0.0 and dy == 0.0:
        return bound, (1.0 if ds < 0.0 else 0.0)
    if not cover:
        g = smallest_gap(x, dx, y, dy, s + c, ds, hx, hy, r0, h0, r1, h1)
        gap = gap_at(away(x + g * dx, y + g * dy, hx, hy), s + g * ds + c, r0, h0, r1, h1)[0] - c
        if gap > 0.0:
            return gap, g
        if d >= r1 + c - EDGE:
            return 0.0, g
    limit = r1 + c - EDGE
    first = crossing(x, dx, y, dy, hx, hy, t, 0.0, limit)
    last = crossing(x, dx, y, dy, hx, hy, t, 1.0, limit)
    if c == 0.0 and r0 == r1:
        t = last if ds < 0.0 else first
    else:
        t = deepest(x, dx, y, dy, ds, hx, hy, r0, h0, r1, h1, c, first, last)
    over = s + t * ds + rise(away(x + t * dx, y + t * dy, hx, hy), r0, h0, r1, h1, c)[0]
    return (over if cover else min(over, 0.0)), t


@helper
def place(path, arc, u):
    """The tip at u (0 to 1) of a path; `arc` is (plane, centre, centre, radii, first angle, sweep)."""
    x = path[0] + u * (path[3] - path[0])
    y = path[1] + u * (path[4] - path[1])
    z = path[2] + u * (path[5] - path[2])
    if arc[0] == 0.0:
        return x, y, z
    radius, angle = arc[3] + u * (arc[4] - arc[3]), arc[5] + u * arc[6]
    a, b = arc[1] + radius * math.cos(angle), arc[2] + radius * math.sin(angle)
    if arc[0] == 17.0:
        return a, b, z
    return (b, y, a) if arc[0] == 18.0 else (x, a, b)


@helper
def bow(arc, part):
    """How far an arc may lie from its chord over a part of it: in plan, and in height."""
    if arc[0] == 0.0:
        return 0.0, 0.0
    turn = abs(arc[6]) * part
    bent = 0.125 * turn * (max(arc[3], arc[4]) * turn + 2.0 * abs(arc[4] - arc[3]) * part)
    return bent, (0.0 if arc[0] == 17.0 else bent)


@helper
def closed(bound, best, cover):
    """Whether a part that cannot fall under `bound` may be left; a doubt about a strike never closes."""
    if bound >= best:
        return True
    return bound >= best - CLOSE and (cover or bound >= 0.0 or best < -STRIKE)


@helper
def opening_parts(arc, stack):
    """Puts the parts that a search begins with on its stack; their number."""
    count = 1 if arc[0] == 0.0 else 1 + min(int(abs(arc[6]) / 0.7), STACK // 2)
    for k in range(count):
        stack[k, 0], stack[k, 1] = k / count, (k + 1) / count
    return count


@helper
def curved(path, arc, body, r0, h0, r1, h1, c, cover, cutoff, stack):
    """v of a piece along an arc, and where; inf where it is not under the cutoff."""
    best, where = cutoff, -1.0
    cx, cy, cos, sin, hx, hy, top = body[0], body[1], body[2], body[3], body[4], body[5], body[7]
    left = opening_parts(arc, stack)
    while left:
        left -= 1
        u0, u1 = stack[left, 0], stack[left, 1]
        px, py, pz = place(path, arc, u0)
        qx, qy, qz = place(path, arc, u1)
        x, y = (px - cx) * cos + (py - cy) * sin, (py - cy) * cos - (px - cx) * sin
        dx, dy = (qx - px) * cos + (qy - py) * sin, (qy - py) * cos - (qx - px) * sin
        side, down = bow(arc, u1 - u0)
        bound, t = straight(x, dx, y, dy, pz - top - down, qz - pz, hx, hy,
                            r0 + side, h0, r1 + side, h1, c, cover, best)
        if closed(bound, best, cover):
            continue
        for u in (u0 + t * (u1 - u0), u0, u1):
            px, py, pz = place(path, arc, u)
            d = away((px - cx) * cos + (py - cy) * sin, (py - cy) * cos - (px - cx) * sin, hx, hy)
            v = value_at(d, pz - top, r0, h0, r1, h1, c, cover)
            if v < best:
                best, where = v, u
        if closed(bound, best, cover):
            continue
        if side < FLOOR or left + 2 > STACK:
            best, where = bound, u0 + t * (u1 - u0)
            continue
        half = 0.5 * (u0 + u1)
        stack[left, 0], stack[left, 1], stack[left + 1, 0], stack[left + 1, 1] = u0, half, half, u1
        left += 2
    return (best, where) if where >= 0.0 else (INF, 0.0)


@helper
def meeting(path, arc, body, pieces, c, cover, cutoff, stack):
    """v of a whole cutter along one path against one body, and where."""
    best, where = INF, 0.0
    for k in range(pieces.shape[0]):
        r0, h0, r1, h1 = pieces[k, 0] + body[6], pieces[k, 1], pieces[k, 2] + body[6], pieces[k, 3]
        if arc[0] == 0.0:
            cos, sin, px, py = body[2], body[3], path[0] - body[0], path[1] - body[1]
            dx, dy = path[3] - path[0], path[4] - path[1]
            v, t = straight(px * cos + py * sin, dx * cos + dy * sin, py * cos - px * sin,
                            dy * cos - dx * sin, path[2] - body[7], path[5] - path[2], body[4], body[5],
                            r0, h0, r1, h1, c, cover, min(best, cutoff))
        else:
            v, t = curved(path, arc, body, r0, h0, r1, h1, c, cover, min(best, cutoff), stack)
        if v < best:
            best, where = v, t
    return best, where


@helper
def box_bound(box, x0, x1, y0, y1, top, cover):
    """A value under every v of the paths in a box (x0, x1, y0, y1 grown by the cutters, lowest z)."""
    dx, dy = max(box[0] - x1, x0 - box[1], 0.0), max(box[2] - y1, y0 - box[3], 0.0)
    s = box[4] - top
    if dx == 0.0 and dy == 0.0:
        return s
    if cover:
        return INF
    return math.sqrt(dx * dx + dy * dy + max(s, 0.0) ** 2)


@helper
def lowest_bound(boxes, leaves, nodes, width, x0, x1, y0, y1, top, cover):
    """The path to begin with: down the bounds, always by the lowest; -1 where none comes near."""
    where, first, last = -1, 0, nodes.shape[0]
    for bounds, below in ((nodes, leaves.shape[0]), (leaves, boxes.shape[0]), (boxes, 0)):
        least = INF
        for k in range(first, last):
            bound = box_bound(bounds[k], x0, x1, y0, y1, top, cover)
            if bound < least:
                where, least = k, bound
        if least == INF:
            return -1
        first, last = where * width, min((where + 1) * width, below)
    return where


@loops.entry("UniTuple(i8, 2)(f8[:,::1], i4[::1], f8[:,::1], i4[::1], i4[::1], f8[:,::1], f8[::1], f8[:,::1],"
             " f8[:,::1], f8[:,::1], i8, f8[:,::1], f8[::1], b1, i8, f8[:,::1], f8[:,::1], f8[:,::1])")
def closest_solids(paths, arc, arcs, cutter, first, pieces, rounds, boxes, leaves, nodes, width, bodies, near,
                   cover, done, found, under, stack):
    """The nearest path of every body, and every path nearer than the body's own limit.

    paths (n, 6): start and end, mm · arc (n,): row of arcs (row 0: straight) · cutter (n,): its pieces are
    pieces[first[k]:first[k + 1]], its rim rounds[k] · boxes (n, 5), leaves and nodes: bounds of each
    path, of each `width` paths and of each `width` leaves · bodies (q, 8), near (q,). Goes into found
    (q, 3): v, path, place; and into under (k, 4): body, path, v, place. Where near is -inf it is only asked
    whether there is a strike: v is then -inf, and the first one found ends the search. With `cover` v is the
    cutter's lowest height over the body's top where it passes over its outline.

    Begins with body `done` and stops before one for which `under`, at least n rows, may lack room; returns
    how many bodies are done and how many rows of `under` are used. stack (STACK + 2, 2) is for working in.
    """
    used = 0
    for q in range(done, bodies.shape[0]):
        if used + paths.shape[0] > under.shape[0]:
            return q, used
        body = bodies[q]
        ex = abs(body[2]) * body[4] + abs(body[3]) * body[5] + body[6]
        ey = abs(body[3]) * body[4] + abs(body[2]) * body[5] + body[6]
        x0, x1, y0, y1, top = body[0] - ex, body[0] + ex, body[1] - ey, body[1] + ey, body[7]
        asked = near[q] == -INF and not cover
        best, which, where = -STRIKE if asked else INF, -1.0, 0.0
        start = lowest_bound(boxes, leaves, nodes, width, x0, x1, y0, y1, top, cover)
        for node in range(-1 if start >= 0 else 0, nodes.shape[0]):
            first_leaf, last_leaf = node * width, min((node + 1) * width, leaves.shape[0])
            if node < 0:
                first_leaf, last_leaf = start // width, start // width + 1
            elif box_bound(nodes[node], x0, x1, y0, y1, top, cover) >= max(best, near[q]):
                continue
            for leaf in range(first_leaf, last_leaf):
                first_path, last_path = leaf * width, min((leaf + 1) * width, paths.shape[0])
                if node < 0:
                    first_path, last_path = start, start + 1
                elif box_bound(leaves[leaf], x0, x1, y0, y1, top, cover) >= max(best, near[q]):
                    continue
                for k in range(first_path, last_path):
                    limit = max(best, near[q])
                    if node >= 0 and (k == start or box_bound(boxes[k], x0, x1, y0, y1, top, cover) >= limit):
                        continue
                    own = pieces[first[cutter[k]]:first[cutter[k] + 1]]
                    v, t = meeting(paths[k], arcs[arc[k]], body, own, rounds[cutter[k]], cover, limit, stack)
                    if v < best:
                        best, which, where = -INF if asked else v, float(k), t
                    if v < near[q]:
                        under[used, 0], under[used, 1], under[used, 2], under[used, 3] = q, k, v, t
                        used += 1
        found[q, 0], found[q, 1], found[q, 2] = best, which, where
    return bodies.shape[0], used


@helper
def margin(x, y, opening):
    """How far inside an opening a point lies; negative outside."""
    x, y = x - opening[0], y - opening[1]
    if opening[4] > 0.0:
        return opening[4] - math.sqrt(x * x + y * y)
    return min(opening[2] - abs(x), opening[3] - abs(y))


@helper
def from_edge(x, z, ax, az, bx, bz):
    """Distance of a point from a straight edge, in the plane of axis and height."""
    ex, ez = bx - ax, bz - az
    u = min(max(((x - ax) * ex + (z - az) * ez) / (ex * ex + ez * ez), 0.0), 1.0)
    return math.sqrt((x - ax - u * ex) ** 2 + (z - az - u * ez) ** 2)


@helper
def raise_within(m, s, chamfer, depth, r0, h0, r1, h1, c):
    """How far a piece with its axis m inside an opening must be raised to touch nothing of the bed."""
    need, reach = -depth - s - h0, r1 + c
    if m >= reach - EDGE:
        return need
    need = max(need, -chamfer - s - rise(max(m, 0.0), r0, h0, r1, h1, c)[0])
    mouth = m + chamfer
    if mouth < reach - EDGE:
        need = max(need, -s - rise(max(mouth, 0.0), r0, h0, r1, h1, c)[0])
    for x in (reach, r0, r0 + c * math.sqrt(0.5)):
        if m < x < mouth:
            need = max(need, x - mouth - s - rise(x, r0, h0, r1, h1, c)[0])
    return need


@helper
def value_within(m, s, chamfer, depth, r0, h0, r1, h1, c):
    """v of a piece against the bed about one opening, the axis m inside its wall."""
    need = raise_within(m, s, chamfer, depth, r0, h0, r1, h1, c)
    if need > 0.0:
        return -need
    gap = min(gap_at(m, s + chamfer + c, r0, h0, r1, h1)[0], gap_at(m + chamfer, s + c, r0, h0, r1, h1)[0])
    if chamfer > 0.0:
        low = s + c
        gap = min(gap, from_edge(r0, low + h0, m, -chamfer, m + chamfer, 0.0),
                  from_edge(r1, low + h1, m, -chamfer, m + chamfer, 0.0))
    return max(min(gap - c, s + h0 + depth), 0.0)


@helper
def in_bed(ax, ay, bx, by, s, side, r0, h0, r1, h1, c, openings, near, count):
    """v at height s of a piece whose axis lies between two places and `side` about them, at the least."""
    best = s + h0
    for k in range(count):
        opening = openings[near[k]]
        m = min(margin(ax, ay, opening), margin(bx, by, opening)) - side
        best = max(best, value_within(m, s, opening[5], opening[6], r0, h0, r1, h1, c))
    return best


@helper
def into_bed(path, arc, top, r0, h0, r1, h1, c, cutoff, openings, near, count, stack):
    """v of a piece along one path against the bed, and where: the margin within an opening is concave
    along a chord, so its ends bound it."""
    best, where = cutoff, -1.0
    left = opening_parts(arc, stack)
    while left:
        left -= 1
        u0, u1 = stack[left, 0], stack[left, 1]
        ax, ay, az = place(path, arc, u0)
        bx, by, bz = place(path, arc, u1)
        side, down = bow(arc, u1 - u0)
        low = min(az, bz) - top - down
        bound = in_bed(ax, ay, bx, by, low, side, r0, h0, r1, h1, c, openings, near, count)
        if closed(bound, best, False):
            continue
        v = in_bed(ax, ay, ax, ay, az - top, 0.0, r0, h0, r1, h1, c, openings, near, count)
        if v < best:
            best, where = v, u0
        v = in_bed(bx, by, bx, by, bz - top, 0.0, r0, h0, r1, h1, c, openings, near, count)
        if v < best:
            best, where = v, u1
        length = abs(bx - ax) + abs(by - ay) + abs(bz - az) + side
        if closed(bound, best, False):
            continue
        if length < EDGE or left + 2 > STACK:
            best, where = bound, u0
            continue
        half = 0.5 * (u0 + u1)
        stack[left, 0], stack[left, 1], stack[left + 1, 0], stack[left + 1, 1] = u0, half, half, u1
        left += 2
    return (best, where) if where >= 0.0 else (INF, 0.0)


@helper
def openings_under(box, reach, openings, widest, near):
    """Numbers of the openings (sorted by x) that a path's axis may pass over; their count."""
    low, high = 0, openings.shape[0]
    while low < high:
        middle = (low + high) // 2
        if openings[middle, 0] < box[0] + reach - widest:
            low = middle + 1
        else:
            high = middle
    count = 0
    while low < openings.shape[0] and openings[low, 0] <= box[1] - reach + widest:
        span = openings[low, 3] + openings[low, 5]
        if box[2] + reach - span <= openings[low, 1] <= box[3] - reach + span:
            near[count] = low
            count += 1
        low += 1
    return count


@loops.entry("i8(f8[:,::1], i4[::1], f8[:,::1], i4[::1], i4[::1], f8[:,::1], f8[::1], f8[::1], f8[:,::1], f8,"
             " f8[:,::1], f8, f8[::1], f8[:,::1], f8[:,::1], i8[::1])")
def closest_bed(paths, arc, arcs, cutter, first, pieces, rounds, reach, boxes, top, openings, near,
                found, under, stack, close):
    """The path nearest to the bed into found (3,): v, path, place; all nearer than `near` into under (n, 3),
    of which the rows used are returned. Arrays as above, reach (cutters,) the cutters' radii, openings (p, 7)
    sorted by x; close (p,) is for working in."""
    best, which, where, used = INF, -1.0, 0.0, 0
    widest = 0.0
    for k in range(openings.shape[0]):
        widest = max(widest, openings[k, 2] + openings[k, 5])
    start = 0
    for k in range(1, boxes.shape[0]):
        if boxes[k, 4] < boxes[start, 4]:
            start = k
    for turn in range(paths.shape[0]):
        k = start if turn == 0 else (turn - 1 if turn <= start else turn)
        limit = max(best, near)
        if boxes[k, 4] - top >= limit:
            continue
        j = cutter[k]
        count = openings_under(boxes[k], reach[j], openings, widest, close)
        v, t = INF, 0.0
        for piece in range(first[j], first[j + 1]):
            own = pieces[piece]
            w, u = into_bed(paths[k], arcs[arc[k]], top, own[0], own[1], own[2], own[3], rounds[j],
                            min(v, limit), openings, close, count, stack)
            if w < v:
                v, t = w, u
        if v < best:
            best, which, where = v, float(k), t
        if v < near:
            under[used, 0], under[used, 1], under[used, 2] = k, v, t
            used += 1
    found[0], found[1], found[2] = best, which, where
    return used
