"use strict";
/* The board while it is cut: key frames, and the moves between them cut again. Time in seconds from the first
   stage's start; `k` moves are wholly done, and `part` of the next one. */
const ROOM = 160e6, KEYS = 24, BUDGET = 24, LOOKS = 400; // bytes and number of key frames; ms of cutting at a time, between looks at it
const replay = {
  n: 0, k: 0, part: 0, total: 0, keys: [], there: false,
  async load() {
    if (this.there || !model.replay) return this.there;
    this.stages = await Promise.all(model.replay.stages.map((each) => this.stage(each)));
    const rows = this.rows = new Map(Array.from(board.stage, (stage, row) => [stage * 1e7 + board.line[row], row]));
    if (model.replay.passed) this.passed = await listed(model.replay.passed, Int32Array);
    this.moves = [];
    let time = 0;
    this.stages.forEach((stage, number) => {
      stage.first = this.moves.length; stage.begins = time;
      for (let k = 0; k < stage.n; k++) {
        time += stage.seconds[k];
        this.moves.push({ stage: number, k, line: stage.line[k], ends: time, seconds: stage.seconds[k], rapid: stage.rapid[k], row: rows.get(number * 1e7 + stage.line[k]) ?? 0 });
      }
    });
    this.n = this.moves.length; this.total = time;
    this.stops = this.stages.flatMap((stage) => stage.stops.map(({ before }) => stage.first + before)).filter((m) => m > 0 && m < this.n).map((m) => this.moves[m - 1].ends);
    await this.frames();
    this.there = true;
    return true;
  },
  /* Seconds of all stages, before anything else is unpacked. */
  async length() {
    const each = await Promise.all(model.replay.stages.map((stage) => listed(stage.seconds, Float32Array)));
    return each.reduce((sum, seconds) => seconds.reduce((a, b) => a + b, sum), 0);
  },
  async stage(packed) {
    const kinds = { line: Int32Array, seconds: Float32Array, rapid: Uint8Array, move: Int32Array, kind: Int32Array, straight: Float64Array, arcs: Float64Array, ends: Float32Array, of: Int32Array, cutter: Int16Array };
    const stage = { ...packed };
    await Promise.all(Object.entries(kinds).map(async ([name, Type]) => { stage[name] = await listed(packed[name], Type); }));
    stage.arc = new Int32Array(stage.m);
    for (let i = 0, n = 0; i < stage.m; i++) if (stage.kind[i] >> 2 & 3) stage.arc[i] = n++;
    stage.sweeps = starts(stage.move, stage.n); stage.pieces = starts(stage.of, stage.n);
    stage.cutting = stage.rounds.map(([r, c, a, f, k, gx, gy, lift, p0, p1]) => ({ r, c, a, f, k, gx, gy, lift, rings: p1 > p0 ? stage.rings.slice(p0, p1) : null }));
    return stage;
  },
  /* The board as stages find it, and the finished one, are the first key frames. A stage that finds another
     board than the last one left (parts were swapped) is entered through its own. */
  async frames() {
    const number = (text) => Number(text), found = Object.keys(grids[0].found).map(number);
    this.keys = await Promise.all((found.length ? found : [0]).map(async (stage) => ({
      k: this.stages[stage].first, enter: true, maps: await Promise.all(grids.map(async (g) => ({
        h: g.found[stage] ? await unpacked(g.found[stage], g.nx, g.ny, 2, Uint16Array) : g.h.slice(),
        by: g.by.map((row) => (board.stage[row] < stage ? row : 0)),
      }))),
    })));
    this.keys.push({ k: this.n, maps: grids.map((g) => ({ h: g.h.slice(), by: g.by.slice() })) });
    this.k = this.n; this.part = 0;
    const bytes = grids.reduce((sum, g) => sum + g.h.length * (2 + g.by.BYTES_PER_ELEMENT), 0);
    this.most = Math.max(2, Math.min(KEYS, Math.floor(ROOM * Math.min(1, (navigator.deviceMemory || 8) / 8) / bytes)));
    this.every = this.passed ? Infinity : Math.max(1, this.work(0, this.n) / this.most);
  },
  /* Cells that moves a up to b go over, about. */
  work(a, b) {
    let area = 0;
    for (let m = a; m < b; m++) this.swept(m, (s, p) => { const [x0, x1, y0, y1] = cutting.box(s, p); area += s.path ? (x1 - x0) * (y1 - y0) : (s.l + 2 * p.r) * 2 * p.r; });
    return area / (board.whole.cell * board.whole.cell);
  },
  /* Each sweep of move m with its cutter. */
  swept(m, act) {
    const { stage: number, k } = this.moves[m], stage = this.stages[number];
    for (let i = stage.sweeps[k]; i < stage.sweeps[k + 1]; i++) act(this.sweep(stage, i), stage.cutting[stage.kind[i] >> 4]);
  },
  sweep(stage, i) {
    const { straight: v, kind, arcs, arc } = stage, o = 6 * i, path = kind[i] >> 2 & 3, scrape = (kind[i] & 3) === 2;
    const sx = v[o], sy = v[o + 1], sz = v[o + 2], ex = v[o + 3], ey = v[o + 4], m = v[o + 5], q = 4 * arc[i];
    if (path) return { sx, sy, sz, ex, ey, m, cx: arcs[q], cy: arcs[q + 1], ar: arcs[q + 2], l: arcs[q + 3], path, scrape };
    const l = Math.hypot(ex - sx, ey - sy);
    return { sx, sy, sz, ex, ey, m, l, dx: l ? (ex - sx) / l : 1, dy: l ? (ey - sy) / l : 0, path, scrape };
  },
  /* The move that is made at a time, and how much of it is done. */
  locate(time) {
    if (time >= this.total) return [this.n, 0];
    let a = 0, b = this.n - 1;
    while (a < b) { const m = (a + b) >> 1; if (this.moves[m].ends <= time) a = m + 1; else b = m; }
    const { ends, seconds } = this.moves[a];
    return [a, seconds ? Math.max(0, 1 - (ends - time) / seconds) : 0];
  },
  /* Let part of move m cut every map: all of it for 1. */
  cut(m, part) {
    const { row, rapid, k, stage: number } = this.moves[m], stage = this.stages[number];
    let cells = 0;
    if (part >= 1) { this.swept(m, (s, p) => { for (const grid of grids) cells += cutting.sweep(grid, s, p, row); }); return cells; }
    if (rapid || part <= 0) return 0;
    const at = this.piece(stage, stage.pieces[k]), sweeps = [];
    let all = 0, gone = 0, [x, y] = at;
    this.swept(m, (s, p) => { sweeps.push([s, p]); all += s.l || 1; });
    for (const [s, p] of sweeps) {
      const share = s.l || 1, done = Math.min(1, (part * all - gone) / share);
      if (done <= 0) break;
      const turned = s.path ? this.clockwise(s, at) : Math.hypot(s.sx - x, s.sy - y) > Math.hypot(s.ex - x, s.ey - y);
      s.drop = Math.abs(at[2] - at[5]);
      for (const grid of grids) cutting.sweep(grid, cutting.partOf(s, done, turned), p, row);
      [x, y] = turned ? [s.sx, s.sy] : [s.ex, s.ey]; gone += share;
    }
    return 0;
  },
  clockwise(s, at) { return (at[0] - s.cx) * (at[4] - s.cy) - (at[1] - s.cy) * (at[3] - s.cx) < 0; },
  piece(stage, i) { return stage.ends.subarray(6 * i, 6 * i + 6); },
  /* Where the tip is: the place on the way of move m at `part` of it; null where nobody knows. */
  tip(m, part) {
    if (m >= this.n) return null;
    const { stage: number, k } = this.moves[m], stage = this.stages[number], a = stage.pieces[k], b = stage.pieces[k + 1];
    if (a === b) return null;
    const long = (i) => { const e = this.piece(stage, i); return Math.hypot(e[3] - e[0], e[4] - e[1], e[5] - e[2]); };
    let all = 0, i = a;
    for (let n = a; n < b; n++) all += long(n);
    let left = part * all;
    while (i < b - 1 && left > long(i)) left -= long(i++);
    const e = this.piece(stage, i), t = Math.min(1, left / (long(i) || 1));
    return [0, 1, 2].map((n) => e[n] + (e[n + 3] - e[n]) * t);
  },
  cutterAt(m) {
    const move = this.moves[Math.min(m, this.n - 1)], stage = this.stages[move.stage];
    return stage.cutters[stage.cutter[move.k]] || null;
  },
  /* Go to a time. What cannot be cut within a frame's budget is cut in the next ones; resolves when there. */
  seek(time) {
    this.goal = this.locate(time);
    if (this.busy) return this.busy;
    const there = this.busy = new Promise((done) => { this.arrived = done; });
    this.go();
    return there;
  },
  go() {
    const until = performance.now() + BUDGET, [k, part] = this.goal;
    if (this.passed && k < this.n) { if (k !== this.k) this.pass(k); this.part = part; }
    else if (k === this.n) { if (this.k < this.n || this.part) this.restore(this.keys[this.keys.length - 1]); }
    else {
      if (k < this.k || (k === this.k && part < this.part) || this.k === this.n) this.restore(this.keyBefore(k));
      else { const key = this.keyBefore(k), enter = this.keys.findLast((each) => each.enter && each.k <= k); if (key.k > this.k + 1 || enter.k > this.k) this.restore(key); }
      while (this.k < k && performance.now() < until) {
        this.since = (this.since || 0) + this.cut(this.k, 1);
        this.k++; this.part = 0;
        if (this.since > this.every) this.keep();
      }
      if (this.k === k) { this.cut(k, part); this.part = part; }
    }
    const there = this.k === this.goal[0] && this.part === this.goal[1];
    if (there || performance.now() > (this.drawn || 0) + LOOKS) { player.show(); this.drawn = performance.now(); }
    if (there) { this.busy = null; this.arrived(); }
    else setTimeout(() => this.go());
  },
  /* What of the finished board is there after k runs of moves of a long program, on the board as it was found. */
  pass(k) {
    const found = this.keys.findLast((key) => key.enter && key.k <= k), end = this.keys[this.keys.length - 1], { passed } = this;
    grids.forEach((grid, n) => {
      const { h, by } = end.maps[n], before = found.maps[n];
      for (let i = 0; i < h.length; i++) { const there = passed[by[i]] < k; grid.h[i] = there ? h[i] : before.h[i]; grid.by[i] = there ? by[i] : before.by[i]; }
      grid.touch(0, grid.nx - 1, 0, grid.ny - 1);
    });
    this.k = k;
  },
  keyBefore(k) { return this.keys.reduce((best, key) => (key.k <= k && key.k > best.k && key.k < this.n ? key : best), this.keys[0]); },
  restore(key) {
    const many = this.k - key.k > 3000 || this.k === this.n || key.k === this.n;
    key.maps.forEach(({ h, by }, n) => {
      const grid = grids[n];
      grid.h.set(h); grid.by.set(by);
      if (many) grid.touch(0, grid.nx - 1, 0, grid.ny - 1);
      else for (let m = key.k; m <= this.k; m++) this.swept(m, (s, p) => this.mark(grid, cutting.box(s, p)));
    });
    this.k = key.k; this.part = 0; this.since = 0;
  },
  mark(grid, [x0, x1, y0, y1]) {
    const cell = (v, o, n) => Math.max(0, Math.min(n - 1, Math.floor((v - o) / grid.cell)));
    grid.touch(cell(x0, grid.x0, grid.nx), cell(x1, grid.x0, grid.nx), cell(y0, grid.y0, grid.ny), cell(y1, grid.y0, grid.ny));
  },
  keep() {
    this.since = 0;
    if (this.keys.some((key) => key.k === this.k) || this.keys.filter((key) => !key.enter).length > this.most) return;
    this.keys.push({ k: this.k, maps: grids.map((g) => ({ h: g.h.slice(), by: g.by.slice() })) });
    this.keys.sort((a, b) => a.k - b.k);
  },
};
/* Where the rows that belong to each of n moves begin: moves stand in order. */
function starts(of, n) {
  const first = new Int32Array(n + 1);
  for (const m of of) first[m + 1]++;
  for (let m = 0; m < n; m++) first[m + 1] += first[m];
  return first;
}
