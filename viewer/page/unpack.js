"use strict";
/* What packing.py packed, unpacked: base64, inflate, bytes apart, row differences summed up. */
async function inflated(text) {
  const bytes = Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate"));
  return new Uint8Array(await new Response(stream).arrayBuffer());
}
/* A map of whole numbers of 1, 2 or 3 bytes into an array of the given type. */
async function unpacked(text, nx, ny, size, Type) {
  const planes = await inflated(text), n = nx * ny, values = new Type(n), p1 = planes.subarray(n), p2 = planes.subarray(2 * n);
  const mask = size === 1 ? 0xff : size === 2 ? 0xffff : 0xffffff;
  for (let i = 0; i < nx; i++) values[i] = planes[i] | (size > 1 ? p1[i] << 8 : 0) | (size > 2 ? p2[i] << 16 : 0);
  if (size === 1) for (let i = nx; i < n; i++) values[i] = planes[i] + values[i - nx] & mask;
  else if (size === 2) for (let i = nx; i < n; i++) values[i] = (planes[i] | p1[i] << 8) + values[i - nx] & mask;
  else for (let i = nx; i < n; i++) values[i] = (planes[i] | p1[i] << 8 | p2[i] << 16) + values[i - nx] & mask;
  return values;
}
/* A list of numbers whose bytes stand apart: all first bytes, then all second ones. */
async function listed(text, Type) {
  const planes = await inflated(text), size = Type.BYTES_PER_ELEMENT, n = planes.length / size, bytes = new Uint8Array(planes.length);
  for (let k = 0; k < size; k++) for (let i = 0; i < n; i++) bytes[i * size + k] = planes[k * n + i];
  return new Type(bytes.buffer);
}
const OFF_BOARD = 0xffff;
const model = JSON.parse(document.getElementById("model").textContent);
const units = model.units;
const shown = (mm, decimals = units.decimals) => {
  const text = (mm / units.scale).toFixed(decimals);
  return Number(text) === 0 ? (0).toFixed(decimals) : text;
};
/* A ridge: in thousandths from a tenth of a millimetre on, else finer. */
const fine = (mm) => shown(mm, units.decimals + (mm < 0.1 ? 1 : 0));
/* Whole numbers to heights and back: pieces of [from this number on, at this height, with this quantum]. */
const steps = model.map.steps;
function heightOf(h) {
  let k = steps.length - 1;
  while (k && h < steps[k][0]) k--;
  return steps[k][1] + (h - steps[k][0]) * steps[k][2];
}
function wholeOf(z) {
  let k = steps.length - 1;
  while (k && z < steps[k][1]) k--;
  return Math.max(0, Math.round((z - steps[k][1]) / steps[k][2]) + steps[k][0]);
}
/* A map of cells: heights in quanta (h), the number of the wanted height (k), the row of who cut it last (by). */
class Grid {
  constructor(packed) { Object.assign(this, packed, { width: packed.nx * packed.cell, depth: packed.ny * packed.cell }); }
  async unpack() {
    const Rows = board.stage.length > 0xffff ? Uint32Array : Uint16Array, { nx, ny } = this;
    [this.h, this.k, this.by] = await Promise.all(
      [unpacked(this.heights, nx, ny, 2, Uint16Array), unpacked(this.wanted, nx, ny, 1, Uint8Array), unpacked(this.last, nx, ny, 3, Rows)]);
  }
  index(x, y) {
    const i = Math.floor((x - this.x0) / this.cell), j = Math.floor((y - this.y0) / this.cell);
    return i >= 0 && j >= 0 && i < this.nx && j < this.ny ? j * this.nx + i : -1;
  }
  z(n) { return this.h[n] === OFF_BOARD ? NaN : heightOf(this.h[n]); }
}
/* The board: its whole map, and the windows in which it is known more finely. What is read off, is read here. */
const grids = model.map.grids.map((packed) => new Grid(packed));
const board = Object.assign({}, model.map, {
  whole: grids[0], windows: grids.slice(1), x0: grids[0].x0, y0: grids[0].y0, width: grids[0].width, depth: grids[0].depth,
  cell: grids[0].cell, finest: grids[grids.length - 1].cell,
  async unpack() {
    [this.stage, this.line] = await Promise.all([listed(this.stage, Int32Array), listed(this.line, Int32Array)]);
    await Promise.all(grids.map((grid) => grid.unpack())); this.measure();
  },
  /* The finest cell about a place; null beside the board. */
  at(x, y) {
    for (const grid of this.windows) { const n = grid.index(x, y); if (n >= 0) return this.cellOf(grid, n, x, y); }
    const n = this.whole.index(x, y);
    return n < 0 ? null : this.cellOf(this.whole, n, x, y);
  },
  cellOf(grid, n, x, y) {
    const z = grid.z(n), k = grid.k[n];
    return z === z ? { x, y, z, by: grid.by[n], wanted: k ? this.levels[k - 1] : NaN } : null;
  },
  /* The level that most cells have, and the range without holes and without the rarest half per cent. */
  measure() {
    const count = new Uint32Array(OFF_BOARD + 1);
    let all = 0;
    for (const h of this.whole.h) count[h]++;
    this.rectangular = !count[OFF_BOARD]; count[OFF_BOARD] = 0;
    for (const c of count) all += c;
    const at = (part) => { let n = 0; for (let h = 0; h < OFF_BOARD; h++) { n += count[h]; if (n > part * all) return heightOf(h); } return heightOf(0); };
    this.level = this.levels.length ? this.levels[this.levels.length - 1] : at(0.5);
    this.lowest = at(0.015); this.highest = at(0.995);
    if (this.highest - this.lowest < 0.02) this.lowest = this.highest - 0.02;
    /* Neither end of the colours belongs to the level that nearly all of the board has. */
    const up = this.highest - this.level, down = this.level - this.lowest;
    this.lowest = Math.min(this.lowest, this.level - up / 2); this.highest = Math.max(this.highest, this.level + down / 2);
  },
  /* "face.nc 119: G1 X620." for a row of the table of who cut. */
  lineText(row) {
    const stage = this.stage[row];
    return stage < 0 ? (row ? "cut by an earlier stage" : "not cut") : programLine(stage, this.line[row]);
  },
});
function programLine(stage, line) {
  const program = model.programs[stage], text = program.lines[line - 1];
  return `${program.name} ${line}${text ? `: ${text}` : ""}`;
}
