"use strict";
/* Small charts in SVG: a frame, rules at round numbers, a line, a cursor that pointer and arrow keys move. */
const SVG = "http://www.w3.org/2000/svg";
function svg(name, attributes, parent, text) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  if (text !== undefined) made.textContent = text;
  if (parent) parent.append(made);
  return made;
}
/* Round numbers between two values, about `many` of them. */
function rules(from, to, many) {
  const rough = (to - from) / many, power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((n) => n * power).find((s) => s >= rough * 0.999), found = [];
  for (let n = Math.ceil(from / step - 1e-9); n * step <= to + step * 1e-9; n++) found.push(n * step);
  return { step, at: found };
}
const digits = (step) => Math.max(0, Math.ceil(-Math.log10(step) - 1e-9));
class Chart {
  constructor(host, label, height) {
    this.host = host; this.height = height;
    this.root = svg("svg", { class: "chart", tabindex: 0, role: "application", "aria-label": label });
    host.append(this.root);
    this.root.addEventListener("pointermove", (e) => this.point(e));
    this.root.addEventListener("click", (e) => { this.point(e); this.chosen(); });
    this.root.addEventListener("keydown", (e) => this.key(e));
  }
  /* x and y in what is shown; bands: [low, high, class]. */
  frame(x, y, bands = []) {
    this.width = Math.max(260, this.host.clientWidth); this.left = 62; this.right = 20; this.top = 8; this.bottom = 24;
    this.x = x; this.y = y;
    this.root.replaceChildren();
    this.root.setAttribute("viewBox", `0 0 ${this.width} ${this.height}`); this.root.setAttribute("height", this.height);
    const id = `clip-${Chart.count = (Chart.count || 0) + 1}`, clip = svg("clipPath", { id }, this.root);
    svg("rect", { x: this.left, y: this.top, width: this.width - this.left - this.right, height: this.height - this.top - this.bottom }, clip);
    const ys = rules(y[0], y[1], this.height > 200 ? 8 : 3), xs = rules(x[0], x[1], this.width / 110);
    for (const v of ys.at) { svg("path", { class: "rule", d: `M${this.left} ${this.py(v)}H${this.width - this.right}` }, this.root); svg("text", { x: this.left - 6, y: this.py(v) + 4, "text-anchor": "end" }, this.root, v.toFixed(digits(ys.step))); }
    for (const v of xs.at) { svg("path", { class: "rule", d: `M${this.px(v)} ${this.height - this.bottom}v5` }, this.root); svg("text", { x: this.px(v), y: this.height - 6, "text-anchor": "middle" }, this.root, v.toFixed(digits(xs.step))); }
    this.inside = svg("g", { "clip-path": `url(#${id})` }, this.root);
    for (const [low, high, name] of bands) svg("rect", { class: name, x: this.left, width: this.width - this.left - this.right, y: this.py(high), height: Math.max(0, this.py(low) - this.py(high)) }, this.inside);
    this.cursor = svg("path", { class: "cursor", d: "" }, this.root);
  }
  px(v) { return this.left + (v - this.x[0]) / (this.x[1] - this.x[0] || 1) * (this.width - this.left - this.right); }
  py(v) { return this.top + (this.y[1] - v) / (this.y[1] - this.y[0] || 1) * (this.height - this.top - this.bottom); }
  line(d, name) { return svg("path", { class: name, d }, this.inside); }
  point(e) {
    const box = this.root.getBoundingClientRect(), px = (e.clientX - box.left) / box.width * this.width;
    this.move(this.nearest(this.x[0] + (px - this.left) / (this.width - this.left - this.right) * (this.x[1] - this.x[0])));
  }
  key(e) {
    const by = { ArrowLeft: -1, ArrowRight: 1, PageUp: -20, PageDown: 20, Home: -Infinity, End: Infinity }[e.key];
    if (by) this.move(Math.min(this.count() - 1, Math.max(0, (this.now ?? 0) + by)));
    else if (e.key === "Enter" || e.key === " ") this.chosen();
    else return;
    e.preventDefault();
  }
  move(k) {
    this.now = k;
    this.cursor.setAttribute("d", `M${this.px(this.where(k))} ${this.top}V${this.height - this.bottom}`);
    this.tell(k);
  }
  /* The moment that is shown, without saying anything. */
  run(v) {
    this.running ??= svg("path", { class: "running" }, this.root);
    if (!this.running.isConnected) this.root.append(this.running);
    this.running.setAttribute("d", `M${this.px(v)} ${this.top}V${this.height - this.bottom}`);
  }
  chosen() {}
}
