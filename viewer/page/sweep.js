"use strict";
/* Cutting, as the simulation does it: each move in one step, in closed form. A sweep is a straight piece from S
   over length l in direction d, climbing m for each mm, or an arc that runs counter-clockwise from S through l
   radians about C; a cutter is flat out to radius a, then rises as a circle of radius f or a cone of slope k out
   to radius r, and cuts from radius c outward; tilted, it is sheared by gx, gy and raised by lift. */
const CORE_EDGE = 1e-9, SCRAPED = 0.01;
const cutting = {
  /* How far behind the axis the cutter is lowest for a cell v beside the path. */
  reach(v, steep, p) {
    const rim = (r) => Math.sqrt(Math.max(0, r * r - v * v));
    if (p.a >= p.r) return rim(p.r);
    if (p.f > 0 && p.a <= 0) return steep / Math.sqrt(1 + steep * steep) * rim(p.f);
    if (p.f > 0) return steep > 0 ? this.bull(v, steep, p) : rim(p.a);
    if (p.k > steep) return Math.min(rim(p.r), Math.max(steep / Math.sqrt(p.k * p.k - steep * steep) * Math.abs(v), rim(p.a)));
    return rim(p.r);
  },
  /* The root of e²(rho² - v²) = steep²·rho²·(f² - e²), rho = a + e: halved until it is there. */
  bull(v, steep, { a, f, r }) {
    if (Math.abs(v) >= r) return 0;
    let low = Math.max(0, Math.abs(v) - a), high = f;
    for (let n = 0; n < 48; n++) {
      const e = (low + high) / 2, rho = a + e;
      if (e * e * (rho * rho - v * v) > steep * steep * rho * rho * (f * f - e * e)) high = e; else low = e;
    }
    return Math.sqrt(Math.max(0, (a + low) * (a + low) - v * v));
  },
  rise(rho, p) { const e = Math.max(0, rho - p.a); return p.k * e + p.f - Math.sqrt(Math.max(0, p.f * p.f - e * e)); },
  straight(u, v, s, p, along, across) {
    if (p.rings) return this.rings(u, v, s, p, along, across);
    const t = Math.min(s.l, Math.max(0, u - this.reach(v, s.m - along, p)));
    const inside = p.c * p.c - v * v - (u - t) * (u - t);
    if (inside > CORE_EDGE) {
      const later = u + Math.sqrt(p.c * p.c - v * v);
      return later <= s.l ? s.sz + p.lift + s.m * later + along * (u - later) + across * v + this.rise(p.c, p) : Infinity;
    }
    const rise = p.a >= p.r ? 0 : this.rise(Math.hypot(u - t, v), p);
    return s.sz + p.lift + s.m * t + along * (u - t) + across * v + rise;
  },
  rings(u, v, s, p, along, across) {
    const steep = s.m - along;
    let best = Infinity;
    for (const [r0, r1, h0, h1] of p.rings) {
      if (Math.abs(v) > r1) continue;
      const inner = Math.sqrt(Math.max(0, r0 * r0 - v * v)), outer = Math.sqrt(r1 * r1 - v * v);
      const slope = r1 > r0 ? (h1 - h0) / (r1 - r0) : 0;
      const lean = slope > Math.abs(steep) ? steep * Math.abs(v) / Math.sqrt(slope * slope - steep * steep) : outer;
      for (const side of [-1, 1]) {
        const low = Math.max(Math.min(side * inner, side * outer), -u), high = Math.min(Math.max(side * inner, side * outer), s.l - u);
        if (low > high + 1e-12) continue;
        for (const w of [low, high, Math.min(high, Math.max(low, -lean))])
          best = Math.min(best, s.sz + p.lift + s.m * (u + w) - along * w + across * v + h0 + slope * (Math.hypot(w, v) - r0));
      }
    }
    return best;
  },
  inSector(x, y, s) {
    if (s.path === 3) return true;
    const ax = s.sx - s.cx, ay = s.sy - s.cy, bx = s.ex - s.cx, by = s.ey - s.cy;
    const after = ax * y - ay * x >= 0, before = x * by - y * bx >= 0;
    return s.path === 1 ? after && before : after || before;
  },
  /* The height that an arc leaves at a cell; Infinity where it does not come. */
  arc(x, y, s, p) {
    const rho = Math.hypot(x - s.cx, y - s.cy);
    let near = Math.hypot(x - s.sx, y - s.sy), far = Math.hypot(x - s.ex, y - s.ey);
    if (near > far) [near, far] = [far, near];
    if (this.inSector(x - s.cx, y - s.cy, s)) near = Math.abs(rho - s.ar);
    if (near > p.r) return Infinity;
    if (s.m) return this.helix(x, y, rho, s, p);
    if (this.inSector(s.cx - x, s.cy - y, s)) far = rho + s.ar;
    return s.sz + this.least(p, near, Math.min(far, p.r));
  },
  least(p, near, far) {
    if (!p.rings) return far < p.c ? Infinity : this.rise(Math.max(near, p.c), p);
    let best = Infinity;
    for (const [r0, r1, h0, h1] of p.rings) {
      const low = Math.max(near, r0), high = Math.min(far, r1), slope = r1 > r0 ? (h1 - h0) / (r1 - r0) : 0;
      if (low <= high) best = Math.min(best, h0 + slope * (low - r0), h0 + slope * (high - r0));
    }
    return best;
  },
  helix(x, y, rho, s, p) {
    const up = s.m > 0, lowX = up ? s.sx : s.ex, lowY = up ? s.sy : s.ey, base = up ? s.sz : s.sz + s.m * s.l;
    const along = (up ? 1 : -1) * (Math.atan2(y - s.cy, x - s.cx) - Math.atan2(lowY - s.cy, lowX - s.cx));
    const half = this.halfAngle(rho, s.ar, p.r), core = p.c > 0 ? this.halfAngle(rho, s.ar, p.c) : 0;
    if (core >= Math.PI) return Infinity;
    const at = Math.min(this.firstAngle(along - half, half - core), this.firstAngle(along + core, half - core));
    return at <= s.l ? base + Math.abs(s.m) * at : Infinity;
  },
  halfAngle(rho, radius, reach) {
    if (rho * radius <= 1e-12) return Math.max(rho, radius) <= reach ? Math.PI : 0;
    return Math.acos(Math.min(1, Math.max(-1, (rho * rho + radius * radius - reach * reach) / (2 * rho * radius))));
  },
  firstAngle(start, width) {
    const turn = 2 * Math.PI, from = start - turn * Math.floor(start / turn);
    return from + width >= turn ? 0 : from;
  },
  /* The rectangle that a sweep stays within. */
  box(s, p) {
    let x0 = Math.min(s.sx, s.ex), x1 = Math.max(s.sx, s.ex), y0 = Math.min(s.sy, s.ey), y1 = Math.max(s.sy, s.ey);
    if (s.path) {
      if (this.inSector(1, 0, s)) x1 = Math.max(x1, s.cx + s.ar);
      if (this.inSector(-1, 0, s)) x0 = Math.min(x0, s.cx - s.ar);
      if (this.inSector(0, 1, s)) y1 = Math.max(y1, s.cy + s.ar);
      if (this.inSector(0, -1, s)) y0 = Math.min(y0, s.cy - s.ar);
    }
    return [x0 - p.r, x1 + p.r, y0 - p.r, y1 + p.r];
  },
  /* Where a row crosses a disc, and all within `radius` of a straight path: [from, to], from > to: nowhere. */
  disc(x, y, radius, row) {
    const d = radius * radius - (row - y) * (row - y);
    return d < 0 ? [Infinity, -Infinity] : [x - Math.sqrt(d), x + Math.sqrt(d)];
  },
  capsule(s, radius, row) {
    let [lo, hi] = this.disc(s.sx, s.sy, radius, row);
    if (!(s.l > 0)) return [lo, hi];
    const [lo2, hi2] = this.disc(s.ex, s.ey, radius, row), y = row - s.sy;
    lo = Math.min(lo, lo2); hi = Math.max(hi, hi2);
    let near = -Infinity, far = Infinity;
    if (Math.abs(s.dx) > 1e-12) { const a = -y * s.dy / s.dx, b = (s.l - y * s.dy) / s.dx; near = Math.min(a, b); far = Math.max(a, b); }
    else if (y * s.dy < 0 || y * s.dy > s.l) return [lo, hi];
    if (Math.abs(s.dy) > 1e-12) { const a = (y * s.dx - radius) / s.dy, b = (y * s.dx + radius) / s.dy; near = Math.max(near, Math.min(a, b)); far = Math.min(far, Math.max(a, b)); }
    else if (Math.abs(y * s.dx) > radius) return [lo, hi];
    return near <= far ? [Math.min(lo, s.sx + near), Math.max(hi, s.sx + far)] : [lo, hi];
  },
  /* Let one sweep cut a map; `row` says who cuts. The cells that it may have changed are noted in the map. */
  sweep(grid, s, p, row) {
    const [bx0, bx1, by0, by1] = this.box(s, p), { cell, x0, y0, nx } = grid;
    const first = (v, o) => Math.ceil((v - o) / cell - 0.5), last = (v, o) => Math.floor((v - o) / cell - 0.5);
    const j0 = Math.max(0, first(by0, y0)), j1 = Math.min(grid.ny - 1, last(by1, y0));
    const a0 = Math.max(0, first(bx0, x0)), a1 = Math.min(nx - 1, last(bx1, x0));
    if (j0 > j1 || a0 > a1) return 0;
    const sill = s.scrape ? SCRAPED : 0, level = !s.path && !s.m && !p.gx && !p.gy && !p.rings;
    let cells = 0;
    for (let j = j0; j <= j1; j++) {
      const y = y0 + (j + 0.5) * cell;
      if (s.path) { this.arcRow(grid, s, p, row, sill, j, y, a0, a1); cells += a1 - a0 + 1; continue; }
      const [lo, hi] = this.capsule(s, p.r, y), i0 = Math.max(a0, first(lo, x0)), i1 = Math.min(a1, last(hi, x0));
      if (i0 > i1) continue;
      cells += i1 - i0 + 1;
      if (!level || p.a <= 0) { this.run(grid, s, p, row, sill, j, y, i0, i1); continue; }
      this.flatRow(grid, s, p, row, sill, j, y, i0, i1, first, last);
    }
    grid.touch(a0, a1, j0, j1);
    return cells;
  },
  /* A row under a level sweep: one height under the flat, what lies beside it cell by cell. */
  flatRow(grid, s, p, row, sill, j, y, i0, i1, first, last) {
    let k0 = i0, k1 = i1;
    if (p.a < p.r) {
      const [lo, hi] = this.capsule(s, p.a, y);
      k0 = Math.max(i0, first(lo, grid.x0)); k1 = Math.min(i1, last(hi, grid.x0));
      if (!(k0 <= k1)) return this.run(grid, s, p, row, sill, j, y, i0, i1);
      this.run(grid, s, p, row, sill, j, y, i0, k0 - 1); this.run(grid, s, p, row, sill, j, y, k1 + 1, i1);
    }
    let q0 = k0, q1 = k0 - 1;
    if (p.c > 0 && s.l < 2 * p.c) {
      const [lo, hi] = this.disc(s.sx, s.sy, p.c, y), [lo2, hi2] = this.disc(s.ex, s.ey, p.c, y);
      const c0 = Math.max(k0, first(Math.max(lo, lo2), grid.x0)), c1 = Math.min(k1, last(Math.min(hi, hi2), grid.x0));
      if (c0 <= c1) { q0 = c0; q1 = c1; }
    }
    const q = wholeOf(s.sz), over = sill ? wholeOf(s.sz + sill) : q, { h, by, nx } = grid;
    for (let n = j * nx + k0, end = j * nx + k1; n <= end; n++) {
      if (n === j * nx + q0 && q1 >= q0) { n = j * nx + q1; continue; }
      if (h[n] > over && h[n] !== OFF_BOARD) { h[n] = q; by[n] = row; }
    }
  },
  run(grid, s, p, row, sill, j, y, i0, i1) {
    const along = p.gx * s.dx + p.gy * s.dy, across = p.gy * s.dx - p.gx * s.dy, yy = y - s.sy;
    for (let i = i0; i <= i1; i++) {
      const x = grid.x0 + (i + 0.5) * grid.cell - s.sx;
      this.lower(grid, j * grid.nx + i, this.straight(x * s.dx + yy * s.dy, yy * s.dx - x * s.dy, s, p, along, across), row, sill);
    }
  },
  arcRow(grid, s, p, row, sill, j, y, i0, i1) {
    const hole = s.ar > p.r ? this.disc(s.cx, s.cy, s.ar - p.r, y) : [Infinity, -Infinity];
    for (let i = i0; i <= i1; i++) {
      const x = grid.x0 + (i + 0.5) * grid.cell;
      if (x > hole[0] && x < hole[1]) { i = Math.max(i, Math.floor((hole[1] - grid.x0) / grid.cell - 0.5)); continue; }
      this.lower(grid, j * grid.nx + i, this.arc(x, y, s, p), row, sill);
    }
  },
  lower({ h, by }, n, z, row, sill) {
    if (z === Infinity || h[n] === OFF_BOARD) return;
    const q = wholeOf(z);
    if (h[n] > (sill ? wholeOf(z + sill) : q)) { h[n] = q; by[n] = row; }
  },
  /* The part of a sweep from its true beginning on, `part` of it; `turned`: it was turned to climb. */
  partOf(s, part, turned) {
    if (part >= 1) return s;
    const cut = { ...s, l: s.l * part };
    if (s.path) {
      const at = (angle) => { const c = Math.cos(angle), n = Math.sin(angle), x = s.sx - s.cx, y = s.sy - s.cy; return [s.cx + x * c - y * n, s.cy + x * n + y * c]; };
      if (turned) { [cut.sx, cut.sy] = at(s.l - cut.l); cut.sz = s.sz + s.m * (s.l - cut.l); } else [cut.ex, cut.ey] = at(cut.l);
      cut.path = cut.l >= 2 * Math.PI - 1e-12 ? 3 : cut.l > Math.PI ? 2 : 1;
    } else if (s.l > 0) {
      if (turned) { cut.sx = s.ex - s.dx * cut.l; cut.sy = s.ey - s.dy * cut.l; cut.sz = s.sz + s.m * (s.l - cut.l); }
      else { cut.ex = s.sx + s.dx * cut.l; cut.ey = s.sy + s.dy * cut.l; }
    } else cut.sz = s.sz + s.drop * (1 - part);
    return cut;
  },
};
Object.assign(Grid.prototype, {
  stale: null,
  /* Cells i0 to i1 of rows j0 to j1 may have another height now. */
  touch(i0, i1, j0, j1) {
    const b = this.stale;
    this.stale = b ? [Math.min(b[0], i0), Math.max(b[1], i1), Math.min(b[2], j0), Math.max(b[3], j1)] : [i0, i1, j0, j1];
  },
});
