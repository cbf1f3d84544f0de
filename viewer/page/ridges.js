"use strict";
/* Ridges: the crests between two passes of the finished board, as lines, and what is told of one near the pointer. */
const ridges = {
  n: 0,
  async unpack() {
    if (!model.ridges) return;
    const { ends, lines, sizes, stage } = model.ridges;
    [this.ends, this.lines, this.sizes, this.stage] = await Promise.all(
      [listed(ends, Float32Array), listed(lines, Int32Array), listed(sizes, Float32Array), listed(stage, Int32Array)]);
    this.n = this.stage.length;
  },
  draw(to, pen, ratio) {
    if (player.now) return;
    pen.beginPath();
    for (let k = 0; k < this.n; k++) {
      const e = this.ends.subarray(6 * k, 6 * k + 6), a = to(e[0], e[1], lift(e[2])), b = to(e[3], e[4], lift(e[5]));
      if (a && b) { pen.moveTo(...a); pen.lineTo(...b); }
    }
    for (const [colour, width] of [["PAPER", 3], ["RIDGE", 1.5]]) { pen.strokeStyle = css(colour); pen.lineWidth = width * ratio; pen.stroke(); }
  },
  /* The ridge within reach of a place, in words; "" where there is none. */
  told(x, y, reach) {
    if (!this.n || player.now || !overlay.shown.ridges) return "";
    let best = -1, least = reach;
    for (let k = 0; k < this.n; k++) {
      const [ax, ay, , bx, by] = this.ends.subarray(6 * k, 6 * k + 6), dx = bx - ax, dy = by - ay;
      const t = Math.min(1, Math.max(0, ((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy || 1)));
      const d = Math.hypot(x - ax - t * dx, y - ay - t * dy);
      if (d < least) { least = d; best = k; }
    }
    if (best < 0) return "";
    const [a, b] = this.lines.subarray(2 * best, 2 * best + 2);
    return ` · ridge ${fine(this.sizes[2 * best])} ${units.sign} high, lines ${Math.min(a, b)} and ${Math.max(a, b)}, ${shown(this.sizes[2 * best + 1], 2)} ${units.sign} apart`;
  },
};
