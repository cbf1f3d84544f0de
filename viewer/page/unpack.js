"use strict";
/* What packing.py packed, unpacked: base64, inflate, bytes apart, row differences summed up. */
async function inflated(text) {
  const bytes = Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate"));
  return new Uint8Array(await new Response(stream).arrayBuffer());
}
async function unpacked(text, nx, ny, size) {
  const planes = await inflated(text), n = nx * ny;
  const values = size === 1 ? new Uint8Array(n) : size === 2 ? new Uint16Array(n) : new Uint32Array(n);
  const mask = size === 1 ? 0xff : size === 2 ? 0xffff : 0xffffff;
  for (let i = 0; i < n; i++) {
    let v = planes[i];
    if (size > 1) v |= planes[n + i] << 8;
    if (size > 2) v |= planes[2 * n + i] << 16;
    values[i] = (v + (i >= nx ? values[i - nx] : 0)) & mask;
  }
  return values;
}
const OFF_BOARD = 0xffff;
const model = JSON.parse(document.getElementById("model").textContent);
const units = model.units;
const shown = (mm, decimals = units.decimals) => {
  const text = (mm / units.scale).toFixed(decimals);
  return Number(text) === 0 ? (0).toFixed(decimals) : text;
};
/* The board's map: everything that is read off it is read off these arrays. */
const board = Object.assign({}, model.map, {
  width: model.map.nx * model.map.cell, depth: model.map.ny * model.map.cell,
  column(x) { return Math.floor((x - this.x0) / this.cell); },
  row(y) { return Math.floor((y - this.y0) / this.cell); },
  index(x, y) {
    const i = this.column(x), j = this.row(y);
    return i >= 0 && j >= 0 && i < this.nx && j < this.ny ? j * this.nx + i : -1;
  },
  z(n) { const h = this.h[n]; return h === OFF_BOARD ? NaN : this.low + h * this.quantum; },
  off(n) { const k = this.k[n]; return k ? this.z(n) - this.levels[k - 1] : NaN; },
  async unpack() {
    const { nx, ny } = this;
    [this.h, this.k, this.by] = await Promise.all(
      [unpacked(this.heights, nx, ny, 2), unpacked(this.wanted, nx, ny, 1), unpacked(this.last, nx, ny, 3)]);
    this.measure();
  },
  /* The level that most cells have, and the range without holes and without the rarest half per cent. */
  measure() {
    const count = new Uint32Array(OFF_BOARD);
    let all = 0;
    for (const h of this.h) if (h !== OFF_BOARD) { count[h]++; all++; }
    const at = (part) => { let n = 0; for (let h = 0; h < OFF_BOARD; h++) { n += count[h]; if (n > part * all) return this.low + h * this.quantum; } return this.low; };
    this.level = this.levels.length ? this.levels[this.levels.length - 1] : at(0.5);
    this.lowest = at(0.015); this.highest = at(0.995);
    if (this.highest - this.lowest < 0.02) this.lowest = this.highest - 0.02;
  },
  lineText(n) {
    const row = this.by[n], stage = this.stage[row];
    if (stage < 0) return row ? "cut by an earlier stage" : "not cut";
    const program = model.programs[stage], line = this.line[row], text = program.lines[line - 1];
    return `${program.name} ${line}${text ? `: ${text}` : ""}`;
  },
});
