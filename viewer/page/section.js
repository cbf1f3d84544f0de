"use strict";
/* A line across the board and the surface along it, cell by cell, so tall that hundredths can be read. */
const section = {
  a: null, b: null, points: [],
  start() {
    this.told = document.getElementById("profile-told");
    this.chart = new Chart(document.getElementById("profile-chart"), "Height along the section line. Left and right arrows go along it.", 240);
    Object.assign(this.chart, { count: () => this.points.length, where: (k) => this.points[k].s / units.scale, tell: (k) => this.tell(k), nearest: (v) => this.nearest(v), chosen: () => view.flyTo(this.points[this.chart.now].x, this.points[this.chart.now].y) });
    for (const id of ["ax", "ay", "bx", "by"]) document.getElementById(id).addEventListener("change", () => this.typed());
    document.getElementById("tall").addEventListener("change", () => this.draw());
    document.getElementById("along-x").addEventListener("click", () => this.through(0));
    document.getElementById("along-y").addEventListener("click", () => this.through(1));
    new ResizeObserver(() => this.draw()).observe(this.chart.host);
    this.tabs = ["player", "profile"].map((id) => document.getElementById(`tab-${id}`));
    for (const tab of this.tabs) {
      tab.addEventListener("click", () => this.open(tab));
      tab.addEventListener("keydown", (e) => { if (e.key === "ArrowLeft" || e.key === "ArrowRight") { const other = this.tabs.find((t) => t !== tab && !t.hidden); if (other) { this.open(other); other.focus(); } } });
    }
    if (!model.replay) { this.tabs[0].hidden = true; this.open(this.tabs[1]); }
    this.through(this.rougher());
  },
  /* What lies under the board: the cutting or the section. */
  open(tab) {
    for (const each of this.tabs) {
      const on = each === tab;
      each.setAttribute("aria-selected", String(on)); each.tabIndex = on ? 0 : -1;
      document.getElementById(each.getAttribute("aria-controls")).hidden = !on;
    }
    this.draw(); view.mark();
  },
  middle() { return overlay.pointed || { x: board.x0 + board.width * 0.61, y: board.y0 + board.depth * 0.61 }; },
  /* 0: along X, 1: along Y, through the place that is pointed at. */
  through(axis) {
    const { x, y } = this.middle();
    this.set(axis ? { x, y: board.y0 } : { x: board.x0, y }, axis ? { x, y: board.y0 + board.depth } : { x: board.x0 + board.width, y });
  },
  /* The axis along which the heights change more: across the passes. */
  rougher() {
    const rough = [0, 1].map((axis) => {
      const { x, y } = this.middle(), grid = board.whole, n = axis ? grid.ny : grid.nx;
      let sum = 0, last = NaN, before = null;
      for (let k = 0; k < n; k++) {
        const along = (k + 0.5) * grid.cell, cell = axis ? board.at(x, board.y0 + along) : board.at(board.x0 + along, y);
        const z = cell && cell.wanted === cell.wanted ? cell.z : NaN;
        if (z === z && last === last) sum += Math.abs(z - last);
        if (cell && before && cell.by !== before.by) sum += 1e-6;
        before = cell; if (z === z) last = z;
      }
      return sum / (axis ? board.depth : board.width);
    });
    return rough[1] >= rough[0] ? 1 : 0;
  },
  /* A drag takes hold of the line's end or of the line itself where it begins near one, else draws another. */
  begin(at) {
    this.open(this.tabs[1]);
    const near = 0.03 * Math.max(board.width, board.depth), { a, b } = this, far = (p) => Math.hypot(at.x - p.x, at.y - p.y);
    const t = Math.min(1, Math.max(0, ((at.x - a.x) * (b.x - a.x) + (at.y - a.y) * (b.y - a.y)) / (this.length * this.length)));
    const on = far({ x: a.x + (b.x - a.x) * t, y: a.y + (b.y - a.y) * t });
    this.held = far(a) < near ? { keep: b } : far(b) < near ? { keep: a } : on < near ? { from: at, a, b } : { keep: at };
  },
  reach(at) {
    const { keep, from, a, b } = this.held || {};
    if (from) { const x = at.x - from.x, y = at.y - from.y; this.set({ x: a.x + x, y: a.y + y }, { x: b.x + x, y: b.y + y }); }
    else if (keep && Math.hypot(at.x - keep.x, at.y - keep.y) > 2 * board.finest) this.set(keep, at);
  },
  typed() {
    const v = ["ax", "ay", "bx", "by"].map((id) => Number(document.getElementById(id).value) * units.scale);
    if (v.every(Number.isFinite) && Math.hypot(v[0] - v[2], v[1] - v[3]) > board.cell) this.set({ x: v[0], y: v[1] }, { x: v[2], y: v[3] });
  },
  set(a, b, same = false) {
    this.a = { x: a.x, y: a.y }; this.b = { x: b.x, y: b.y };
    const length = Math.hypot(b.x - a.x, b.y - a.y), n = Math.max(2, Math.min(40000, Math.ceil(length / board.finest)));
    this.points = [];
    for (let k = 0; k < n; k++) {
      const t = (k + 0.5) / n, x = a.x + (b.x - a.x) * t, y = a.y + (b.y - a.y) * t, cell = board.at(x, y);
      this.points.push({ s: t * length, x, y, cell, z: cell ? cell.z : NaN, wanted: cell ? cell.wanted : NaN });
    }
    if (!same) [["ax", a.x], ["ay", a.y], ["bx", b.x], ["by", b.y]].forEach(([id, v]) => { document.getElementById(id).value = shown(v, 2); });
    this.length = length; if (!same) this.chart.now = undefined;
    this.draw(); view.mark();
  },
  /* The same line over the board as it is now. */
  again() { if (this.a && !document.getElementById("profile").hidden) this.set(this.a, this.b, true); },
  nearest(v) { return Math.min(this.points.length - 1, Math.max(0, Math.round(v * units.scale / this.length * this.points.length - 0.5))); },
  /* The heights to show: what was chosen, about the wanted face or the middle height. */
  span() {
    const known = this.points.map((p) => p.z).filter((z) => z === z).sort((p, q) => p - q);
    if (!known.length) return [-1, 1];
    const at = (part) => known[Math.min(known.length - 1, Math.floor(part * known.length))];
    const face = this.points.filter((p) => p.wanted === p.wanted), level = face.length ? face[0].wanted : at(0.5);
    const choice = document.getElementById("tall").value;
    if (choice === "all") { const room = Math.max(0.02, 0.06 * (known[known.length - 1] - known[0])); return [known[0] - room, known[known.length - 1] + room]; }
    if (choice !== "auto") return [level - Number(choice) / 2, level + Number(choice) / 2];
    const on = (face.length ? face.map((p) => p.z) : known).sort((p, q) => p - q), reach = Math.max(on[on.length - 1] - level, level - on[0]);
    const half = Math.max(0.03, reach * 1.15);
    return [level - half, level + half];
  },
  draw() {
    if (!this.points.length || !this.chart.host.clientWidth) return;
    const [low, high] = this.span(), c = this.chart, t = board.tolerance, s = units.scale;
    const face = this.points.find((p) => p.wanted === p.wanted);
    c.frame([0, this.length / s], [low / s, high / s], face ? [[(face.wanted - t) / s, (face.wanted + t) / s, "band"]] : []);
    if (face) c.line(`M${c.left} ${c.py(face.wanted / s)}H${c.width}`, "wanted-line");
    c.line(this.trace(c, s), "trace");
    if (c.now !== undefined) c.move(c.now);
    this.words(low, high);
  },
  /* Every cell of a pixel column counts: its highest and its lowest. */
  trace(c, s) {
    let d = "", column = null;
    const put = () => { if (column) d += `${column.joined ? "L" : "M"}${column.x} ${column.first}${column.low === column.high ? "" : `V${column.low}V${column.high}V${column.last}`}`; };
    let joined = false;
    for (const p of this.points) {
      if (p.z !== p.z) { put(); column = null; joined = false; continue; }
      const x = Math.round(c.px(p.s / s) * 2) / 2, y = Math.round(c.py(p.z / s) * 10) / 10;
      if (column && column.x === x) { column.low = Math.max(column.low, y); column.high = Math.min(column.high, y); column.last = y; continue; }
      put(); column = { x, first: y, last: y, low: y, high: y, joined }; joined = true;
    }
    put();
    return d;
  },
  words(low, high) {
    const on = this.points.filter((p) => p.wanted === p.wanted).map((p) => p.z - p.wanted);
    const beyond = this.points.some((p) => p.z < low || p.z > high) ? " Some of it goes beyond the chart: choose more height." : "";
    if (!on.length) { this.told.textContent = `No face is wanted along this line.${beyond}`; return; }
    const most = Math.max(...on), least = Math.min(...on), between = most - least;
    const felt = between > 1e-6 && between < 0.01 ? ` Less than ${shown(0.01)} ${units.sign} between them: such lines are seen, since light shows where the cutter passed in another direction, and not felt.` : "";
    this.told.textContent = `Along this line, holes and recesses left out, the surface lies ${shown(most, 4)} to ${shown(least, 4)} ${units.sign} from the wanted face: ${shown(between, 4)} ${units.sign} between the highest and the lowest place.${felt}${beyond}`;
  },
  tell(k) {
    const p = this.points[k];
    view.tell(p.cell);
    document.getElementById("profile-at").textContent = p.z === p.z ? `${shown(p.s, 2)} ${units.sign} along the line: ${view.readout.textContent}` : "Beside the board.";
  },
};
overlay.section = function () {
  if (!section.a || document.getElementById("profile").hidden) return;
  const { pen, ratio } = this, n = 160, along = [];
  for (let k = 0; k <= n; k++) {
    const x = section.a.x + (section.b.x - section.a.x) * k / n, y = section.a.y + (section.b.y - section.a.y) * k / n, cell = board.at(x, y);
    along.push([x, y, cell ? lift(cell.z, hollow(cell)) : board.level]);
  }
  for (const [colour, width] of [[css("PAPER"), 4], [css("INK"), 1.6]]) {
    pen.strokeStyle = colour; pen.lineWidth = width * ratio; pen.setLineDash(width < 2 ? [9 * ratio, 5 * ratio] : []);
    if (this.line(along)) pen.stroke();
  }
  pen.setLineDash([]);
};
