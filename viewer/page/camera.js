"use strict";
/* Where the board is looked at from. Millimetres; turn and tilt in radians, tilt 90 degrees is from above. */
const camera = {
  target: [0, 0, 0], turn: 0, tilt: 0.96, distance: 1000, exaggeration: 1, fov: 0.42,
  /* So near that the board and what stands on it just fill the view. */
  whole() {
    this.turn = 0; this.tilt = 0.96; this.aspect ||= 1.6;
    this.target = [board.x0 + board.width / 2, board.y0 + board.depth / 2, board.level];
    this.distance = 2 * Math.max(board.width, board.depth);
    const xs = [board.x0, board.x0 + board.width], ys = [board.y0, board.y0 + board.depth], points = [];
    for (const c of model.clamps) for (const [x, y] of c.outline) if (Math.hypot(x - this.target[0], y - this.target[1]) < this.distance / 2) { xs.push(x); ys.push(y); }
    for (const x of [Math.min(...xs), Math.max(...xs)]) for (const y of [Math.min(...ys), Math.max(...ys)]) points.push([x, y, board.level]);
    for (let n = 0; n < 14; n++) {
      const m = this.matrix(), seen = points.map((p) => this.project(...p, 2, 2, m)).filter(Boolean);
      const ys = seen.map((p) => p[1]), across = Math.max(...seen.map((p) => Math.abs(p[0] - 1))), half = (Math.max(...ys) - Math.min(...ys)) / 2;
      this.target[1] -= ((Math.max(...ys) + Math.min(...ys)) / 2 - 1) * this.distance * Math.tan(this.fov / 2) / Math.sin(this.tilt);
      this.distance *= 0.4 + 0.6 * Math.max(across / 0.94, half / 0.88);
    }
    this.framed = this.stands();
  },
  stands() { return [this.turn, this.tilt, this.distance, ...this.target].join(" "); },
  /* The view has another shape now: the whole board still fills it, unless somebody has looked elsewhere. */
  reshape(aspect) {
    const whole = this.framed === this.stands();
    this.aspect = aspect;
    if (whole) this.whole();
  },
  eye() {
    const c = Math.cos(this.tilt), s = Math.sin(this.tilt), [x, y, z] = this.target, d = this.distance;
    return [x - Math.sin(this.turn) * c * d, y - Math.cos(this.turn) * c * d, z + s * d];
  },
  axes() {
    const st = Math.sin(this.turn), ct = Math.cos(this.turn), c = Math.cos(this.tilt), s = Math.sin(this.tilt);
    return { right: [ct, -st, 0], up: [st * s, ct * s, c], back: [-st * c, -ct * c, s] };
  },
  matrix() {
    const e = this.eye(), { right: r, up: u, back: b } = this.axes();
    const dot = (p) => -(p[0] * e[0] + p[1] * e[1] + p[2] * e[2]);
    const f = 1 / Math.tan(this.fov / 2), near = this.distance * 0.02, far = this.distance * 6 + 4000;
    const a = f / this.aspect, m = (far + near) / (near - far), n = 2 * far * near / (near - far);
    const v = [r[0], u[0], b[0], 0, r[1], u[1], b[1], 0, r[2], u[2], b[2], 0, dot(r), dot(u), dot(b), 1];
    const out = new Float32Array(16);
    for (let k = 0; k < 4; k++) {
      out[4 * k] = a * v[4 * k]; out[4 * k + 1] = f * v[4 * k + 1];
      out[4 * k + 2] = m * v[4 * k + 2] + n * v[4 * k + 3]; out[4 * k + 3] = -v[4 * k + 2];
    }
    return out;
  },
  /* A place of the board frame to pixels of the canvas; null behind the eye. */
  project(x, y, z, width, height, m = this.matrix()) {
    const w = m[3] * x + m[7] * y + m[11] * z + m[15];
    if (w <= 0) return null;
    const px = (m[0] * x + m[4] * y + m[8] * z + m[12]) / w, py = (m[1] * x + m[5] * y + m[9] * z + m[13]) / w;
    return [(px + 1) / 2 * width, (1 - py) / 2 * height];
  },
  /* The place on the drawn surface under a pixel; null beside the board. Marches down to the map itself. */
  hit(px, py, width, height) {
    const t = Math.tan(this.fov / 2), a = (px / width * 2 - 1) * t * this.aspect, b = (1 - py / height * 2) * t;
    const e = this.eye(), { right: r, up: u, back: k } = this.axes();
    const d = [0, 1, 2].map((n) => a * r[n] + b * u[n] - k[n]);
    if (d[2] >= 0) return null;
    const top = lift(board.highest + 2), low = lift(board.level - 40);
    const from = (top - e[2]) / d[2], to = (low - e[2]) / d[2];
    const across = Math.hypot(d[0], d[1]) * (to - from);
    const steps = Math.min(4000, Math.max(8, Math.ceil(across / board.finest * 1.5)));
    for (let n = 0; n <= steps; n++) {
      const s = from + (to - from) * n / steps, x = e[0] + d[0] * s, y = e[1] + d[1] * s;
      const cell = board.at(x, y);
      if (cell && e[2] + d[2] * s <= lift(cell.z, hollow(cell))) return cell;
    }
    return null;
  },
};
/* Height as drawn: exaggerated about the face's level, holes no deeper than is good to look at. */
const deepest = () => Math.max(0.12 * Math.min(board.width, board.depth) / camera.exaggeration, 0.5);
/* What is above the surface is drawn true, however heights are exaggerated. */
const stand = (z) => (z > board.highest + 0.5 ? lift(board.highest) + z - board.highest : lift(z));
const lift = (z, deep = 1) => board.level + Math.max(z - board.level, -deepest() * deep) * camera.exaggeration;
/* Where no face is wanted, in holes and recesses, less depth is enough to see them. */
const hollow = (cell) => (board.levels.length && cell.wanted !== cell.wanted ? HOLLOW : 1);
const HOLLOW = 0.2;
