"use strict";
/* Along the program: bars as long as the moves; a click or Enter shows the line and flies to its place. */
const along = {
  charts: [],
  start() {
    const host = document.getElementById("along");
    if (!model.charts.length) return;
    host.hidden = false;
    this.pick = document.getElementById("along-stage"); this.told = document.getElementById("along-told");
    for (const c of model.charts) { const o = document.createElement("option"); o.value = c.stage; o.textContent = model.stages[c.stage]; this.pick.append(o); }
    this.pick.value = model.charts[model.charts.length - 1].stage;
    this.pick.addEventListener("change", () => this.build());
    new ResizeObserver(() => this.draw()).observe(document.getElementById("along-charts"));
    this.build();
  },
  build() {
    this.data = model.charts.find((c) => c.stage === Number(this.pick.value));
    const host = document.getElementById("along-charts");
    host.replaceChildren();
    this.charts = this.data.series.filter((s) => s.values.some((v) => v !== null)).map((series) => {
      const title = document.createElement("h3"), box = document.createElement("div");
      title.textContent = `${series.name}, ${series.sign}${series.limit ? `; dashed: ${series.limit}` : ""}`;
      host.append(title, box);
      const chart = new Chart(box, `${series.name} along the program. Left and right arrows go from move to move, Enter shows the place.`, 150);
      return Object.assign(chart, { series, count: () => this.data.line.length, where: (k) => this.middle(k), nearest: (v) => this.nearest(v), tell: (k) => this.tell(k, chart), chosen: () => this.show(chart.now) });
    });
    this.draw();
  },
  middle(k) { return ((k ? this.data.end[k - 1] : 0) + this.data.end[k]) / 2 / units.far; },
  nearest(v) {
    const end = this.data.end; let a = 0, b = end.length - 1;
    while (a < b) { const m = (a + b) >> 1; if (end[m] / units.far < v) a = m + 1; else b = m; }
    return a;
  },
  draw() {
    const end = this.data ? this.data.end : [];
    for (const chart of this.charts) {
      if (!chart.host.clientWidth) return;
      const { values, low, high } = chart.series, s = 1;
      const all = [...values, ...(high || []), ...(low || [])].filter((v) => v !== null);
      const top = all.reduce((a, v) => Math.max(a, v), 0), least = all.reduce((a, v) => Math.min(a, v), 0), room = (top - least || 1) * 0.06;
      chart.frame([0, end[end.length - 1] / units.far], [(least < 0 ? least - room : 0) / s, (top + room) / s]);
      if (least < 0) chart.line(`M${chart.left} ${chart.py(0)}H${chart.width}`, "wanted-line");
      chart.line(this.bars(chart, values, s), "trace bars");
      for (const limit of [low, high]) if (limit) chart.line(this.bars(chart, limit, s), "limit");
      if (chart.now !== undefined) chart.move(chart.now);
    }
  },
  bars(chart, values, s) {
    let d = "", open = false;
    values.forEach((v, k) => {
      if (v === null) { open = false; return; }
      const x0 = chart.px((k ? this.data.end[k - 1] : 0) / units.far).toFixed(1), x1 = chart.px(this.data.end[k] / units.far).toFixed(1), y = chart.py(v / s).toFixed(1);
      d += `${open ? "L" : "M"}${x0} ${y}H${x1}`; open = true;
    });
    return d;
  },
  tell(k, chart) {
    const line = this.data.line[k], program = model.programs[this.data.stage], text = program.lines[line - 1], v = chart.series.values[k];
    this.told.textContent = `${program.name} ${line}${text ? `: ${text}` : ""} · ${chart.series.name.toLowerCase()} ${v === null ? "not known" : `${figure(v)} ${chart.series.sign}`}`;
  },
  show(k) {
    if (k === undefined) return;
    view.flyTo(this.data.x[k], this.data.y[k]);
    if (model.replay) player.goToMove(this.data.stage, this.data.move[k]);
  },
  /* The cursors run along while the board is cut. */
  follow(now) {
    if (!now || !this.charts.length) return;
    if (now.stage !== this.data.stage) { this.pick.value = now.stage; this.build(); }
    const { move, end } = this.data;
    let a = 0, b = move.length - 1;
    while (a < b) { const m = (a + b) >> 1; if (move[m] < now.k) a = m + 1; else b = m; }
    const from = a ? end[a - 1] : 0, at = (move[a] === now.k ? from + (end[a] - from) * now.part : from) / units.far;
    for (const chart of this.charts) chart.run(at);
  },
};
/* Three figures that count. */
const figure = (v) => (v === 0 ? "0" : String(Number(v.toPrecision(4))));
