"use strict";
/* What stands about the surface, drawn flat over it: screws, clamps, path, reasons, the section line, zero. */
const css = (name) => `rgb(${model.colours[name].join(" ")})`;
const CROWD = 40; // heads in the view
const overlay = {
  shown: { heads: true, clamps: true, ridges: true, path: false, bed: false },
  start(canvas) { this.canvas = canvas; this.pen = canvas.getContext("2d"); },
  /* The way of the tip, stage by stage, as packed with the replay or without it. */
  async unpackPath() {
    if (model.replay) {
      await replay.load();
      this.ways = replay.stages.map((s, number) => ({ number, n: s.p, ends: s.ends, of: s.of, rapid: s.rapid }));
    } else if (model.path) {
      const [ends, rapid] = await Promise.all([listed(model.path.ends, Float32Array), listed(model.path.rapid, Uint8Array)]);
      this.ways = [{ number: -1, n: model.path.p, ends, of: Int32Array.from({ length: model.path.p }, (_, n) => n), rapid }];
    }
    this.long = this.ways ? this.ways.reduce((sum, way) => sum + way.n, 0) : 0;
  },
  /* Whether a body stands at the moment that is shown; the finished board shows every one. */
  stands(body) {
    const now = player.now;
    return !now || body.when.some(([stage, first, stop]) => stage === now.stage && first <= now.k && now.k < stop);
  },
  draw(moving) {
    const { canvas, pen } = this, m = camera.matrix();
    this.ratio = canvas.width / canvas.clientWidth;
    this.to = (x, y, z) => camera.project(x, y, z, canvas.width, canvas.height, m);
    pen.clearRect(0, 0, canvas.width, canvas.height);
    pen.lineJoin = "round"; this.taken = [];
    if (board.rectangular) this.sides();
    if (this.shown.bed) this.openings();
    if (this.shown.ridges && ridges.n) ridges.draw(this.to, pen, this.ratio);
    if (this.shown.path && this.ways && !(moving && this.long > 8000)) this.ways.forEach((way) => this.paths(way));
    if (this.shown.heads) { model.heads.forEach((h) => this.stands(h) && this.head(h)); this.gaps(); }
    if (this.shown.clamps) model.clamps.forEach((c) => this.stands(c) && this.clamp(c));
    this.cutter();
    this.zero();
    this.section();
    this.flags = [];
    model.marks.slice().reverse().forEach((mark) => this.mark(mark));
    if (this.pointed) this.cross(this.pointed);
  },
  line(points, close = false) {
    const { pen } = this, seen = points.map((p) => this.to(...p));
    if (seen.some((p) => !p)) return false;
    pen.beginPath();
    seen.forEach(([x, y], k) => (k ? pen.lineTo(x, y) : pen.moveTo(x, y)));
    if (close) pen.closePath();
    return true;
  },
  /* The board's sides that face the eye: they never hide its top. */
  sides() {
    const { pen } = this, top = board.level, low = board.bottom, e = camera.eye();
    const x0 = board.x0, x1 = x0 + board.width, y0 = board.y0, y1 = y0 + board.depth;
    const faces = [[e[1] < y0, [x0, y0], [x1, y0]], [e[1] > y1, [x0, y1], [x1, y1]], [e[0] < x0, [x0, y0], [x0, y1]], [e[0] > x1, [x1, y0], [x1, y1]]];
    pen.fillStyle = css("SIDE");
    for (const [faced, a, b] of faces)
      if (faced && this.line([[...a, top], [...b, top], [...b, low], [...a, low]], true)) pen.fill();
  },
  /* The bed's openings, seen through the board. */
  openings() {
    const { pen } = this;
    pen.strokeStyle = css("INK"); pen.lineWidth = this.ratio; pen.setLineDash([2 * this.ratio, 2 * this.ratio]);
    for (const [x, y, r] of model.openings) {
      const z = lift(board.level);
      if (this.line(Array.from({ length: 24 }, (_, n) => [x + r * Math.cos(n * Math.PI / 12), y + r * Math.sin(n * Math.PI / 12), z]), true)) pen.stroke();
    }
    pen.setLineDash([]);
  },
  /* Feeds whole, rapids dotted; while the board is cut, only what was gone already. */
  paths({ number, n, ends, of, rapid }) {
    const { pen } = this, now = player.now;
    if (now && number > now.stage) return;
    const at = (k) => this.to(ends[k], ends[k + 1], stand(ends[k + 2])), last = now && number === now.stage ? now.k : Infinity;
    for (const fast of [0, 1]) {
      pen.beginPath(); pen.strokeStyle = css("INK"); pen.globalAlpha = fast ? 0.55 : 0.8; pen.lineWidth = this.ratio;
      pen.setLineDash(fast ? [2 * this.ratio, 4 * this.ratio] : []);
      for (let k = 0; k < n && of[k] < last; k++) {
        if (rapid[of[k]] !== fast) continue;
        const a = at(6 * k), b = at(6 * k + 3);
        if (a && b) { pen.moveTo(...a); pen.lineTo(...b); }
      }
      pen.stroke();
    }
    pen.setLineDash([]); pen.globalAlpha = 1;
  },
  clamp(c) {
    const { pen } = this, points = c.outline, top = c.top;
    pen.globalAlpha = player.now || c.stays || c.struck ? 0.85 : 0.45;
    pen.fillStyle = c.struck ? css("STRUCK") : css("CLAMP"); pen.strokeStyle = css("INK"); pen.lineWidth = this.ratio;
    points.forEach((a, k) => {
      const b = points[(k + 1) % points.length];
      if (this.line([[...a, board.level], [...b, board.level], [...b, top], [...a, top]], true)) pen.fill();
    });
    if (this.line(points.map((p) => [...p, top]), true)) { pen.fill(); pen.stroke(); }
    pen.globalAlpha = 1;
  },
  /* A screw is laid on the surface about it, so that neither its recess nor the board hides it. */
  ground(h) {
    const about = [];
    for (let k = 0; k < 16; k++) {
      const cell = board.at(h.x + (h.r + 4) * Math.cos(k * Math.PI / 8), h.y + (h.r + 4) * Math.sin(k * Math.PI / 8));
      if (cell) about.push(cell.z);
    }
    return about.length ? about.sort((a, b) => a - b)[about.length >> 1] : board.level;
  },
  head(h) {
    const { pen } = this, around = [], z = lift(h.ground ??= this.ground(h));
    for (let k = 0; k < 32; k++) around.push([h.x + h.r * Math.cos(k * Math.PI / 16), h.y + h.r * Math.sin(k * Math.PI / 16), z]);
    if (!this.line(around, true)) return;
    pen.fillStyle = h.struck ? css("STRUCK") : css(h.part === "head" ? "SCREW" : "WASHER"); pen.fill();
    pen.strokeStyle = css("PAPER"); pen.lineWidth = this.ratio; pen.stroke();
  },
  /* The gaps beside the heads, the smallest first; one that would lie on another is left out, and where many are
     seen, most: nearer, there is room for more. */
  gaps() {
    const { ratio } = this, taken = this.taken;
    this.sorted ??= model.heads.filter((h) => h.text).sort((a, b) => parseFloat(a.text) - parseFloat(b.text));
    const seen = this.sorted.map((h) => [h, this.stands(h) && this.to(h.x, h.y - h.r, lift(h.ground ??= this.ground(h)))])
      .filter(([, p]) => p && p[0] > 0 && p[1] > 0 && p[0] < this.canvas.width && p[1] < this.canvas.height);
    const room = seen.length > CROWD ? 4 : 1;
    for (const [h, p] of seen) {
      if (taken.some((q) => Math.abs(q[0] - p[0]) < 62 * ratio * room && Math.abs(q[1] - p[1]) < 15 * ratio * room)) continue;
      taken.push(p);
      this.text(h.text, p[0], p[1] + 11 * ratio, h.struck ? css("STRUCK") : css("INK"), 13, true);
    }
  },
  text(words, x, y, colour, size, bold) {
    const { pen } = this;
    pen.font = `${bold ? 600 : 400} ${size * this.ratio}px system-ui, sans-serif`;
    pen.textAlign = "center"; pen.textBaseline = "middle"; pen.lineWidth = 3 * this.ratio;
    pen.strokeStyle = css("PAPER"); pen.strokeText(words, x, y); pen.fillStyle = colour; pen.fillText(words, x, y);
  },
  zero() {
    const { pen } = this, [x, y] = model.zero, reach = 0.07 * board.width, z = board.level;
    for (const [colour, width] of [["PAPER", 6], ["INK", 3]]) {
      pen.strokeStyle = css(colour); pen.lineWidth = width * this.ratio;
      if (this.line([[x + reach, y, z], [x, y, z], [x, y + reach, z]])) pen.stroke();
    }
    for (const [name, a, b] of [["X", x + 1.25 * reach, y], ["Y", x, y + 1.25 * reach]]) {
      const p = this.to(a, b, z), far = 1.5 * this.ratio;
      if (p && !this.taken.some((q) => Math.abs(q[0] - p[0]) < 28 * far && Math.abs(q[1] + 8 * far - p[1]) < 12 * far)) this.text(name, p[0], p[1], css("INK"), 14, true);
    }
  },
  /* A reason stands on a pole; poles that stand close together get different heights. */
  mark(mark) {
    const { pen, ratio } = this, foot = this.to(mark.at[0], mark.at[1], stand(mark.at[2]));
    if (!foot) return;
    const near = model.marks.filter((o) => o.number < mark.number && Math.hypot(o.at[0] - mark.at[0], o.at[1] - mark.at[1]) < 0.07 * board.width).length;
    const y = foot[1] - (30 + 24 * near) * ratio, stop = mark.severity === "stop", on = this.chosen === mark.number;
    this.flags.push([foot[0] / ratio, y / ratio, mark.number]);
    pen.strokeStyle = stop ? css("STRUCK") : css("INK"); pen.lineWidth = 2 * ratio;
    pen.beginPath(); pen.moveTo(...foot); pen.lineTo(foot[0], y); pen.stroke();
    pen.beginPath(); pen.arc(foot[0], foot[1], 3 * ratio, 0, 7); pen.fillStyle = pen.strokeStyle; pen.fill();
    pen.beginPath(); pen.arc(foot[0], y, (on ? 14 : 11) * ratio, 0, 7);
    pen.fillStyle = stop ? css("STRUCK") : css("PAPER"); pen.fill();
    pen.strokeStyle = on ? css("INK") : stop ? css("PAPER") : css("INK"); pen.lineWidth = (on ? 4 : 2) * ratio; pen.stroke();
    pen.font = `700 ${13 * ratio}px system-ui, sans-serif`; pen.textAlign = "center"; pen.textBaseline = "middle";
    pen.fillStyle = stop ? css("PAPER") : css("INK"); pen.fillText(mark.number, foot[0], y);
  },
  cross(cell) {
    const { pen, ratio } = this, p = this.to(cell.x, cell.y, lift(cell.z, hollow(cell)));
    if (!p) return;
    for (const [colour, width] of [[css("PAPER"), 5], [css("INK"), 2]]) {
      pen.strokeStyle = colour; pen.lineWidth = width * ratio; pen.beginPath();
      for (const [a, b] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) { pen.moveTo(p[0] + a * 4 * ratio, p[1] + b * 4 * ratio); pen.lineTo(p[0] + a * 13 * ratio, p[1] + b * 13 * ratio); }
      pen.stroke();
    }
  },
};
