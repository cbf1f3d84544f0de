"use strict";
/* The view: what hand and keys do to it, what it says of the place under the pointer, how it flies to a reason. */
const view = {
  element: document.getElementById("view"), stage: document.getElementById("stage"), readout: document.getElementById("readout"),
  fingers: new Map(), tool: "turn",
  async start() {
    await Promise.all([board.unpack(), ridges.unpack()]);
    const canvas = document.getElementById("surface");
    if (!surface.start(canvas)) throw new Error("no WebGL2");
    surface.watch();
    overlay.start(document.getElementById("overlay"));
    this.element.classList.add("ready");
    for (const event of ["pointerdown", "pointermove", "pointerup", "pointercancel", "wheel", "keydown"])
      this.stage.addEventListener(event, (e) => this[event](e), { passive: event !== "wheel" && event !== "keydown" });
    this.stage.addEventListener("contextmenu", (e) => e.preventDefault());
    this.controls();
    new ResizeObserver(() => this.resize()).observe(this.stage);
    this.resize(); camera.whole(); this.look();
    if (!model.path && (!model.replay || model.replay.passed)) document.querySelector("label:has([data-layer=path])").hidden = true;
    for (const link of document.querySelectorAll("a.fly")) link.addEventListener("click", (e) => { e.preventDefault(); this.fly(Number(link.dataset.number)); });
    for (const link of document.querySelectorAll("a.spot"))
      link.addEventListener("click", (e) => { const [x, y] = link.dataset.at.split(",").map(Number); if (x === x && y === y) { e.preventDefault(); this.flyTo(x, y); } });
    for (const button of document.querySelectorAll("button.then")) {
      const mark = model.marks.find((m) => m.number === Number(button.dataset.number));
      button.hidden = !model.replay || !mark || mark.stage < 0 || !mark.line;
      button.addEventListener("click", () => { this.fly(mark.number); player.goToLine(mark.stage, mark.line, mark.at); });
    }
  },
  resize() {
    const ratio = Math.min(2, window.devicePixelRatio || 1), w = this.stage.clientWidth, h = this.stage.clientHeight;
    if (!w || !h) return;
    for (const c of [surface.canvas, overlay.canvas]) { c.width = Math.round(w * ratio); c.height = Math.round(h * ratio); }
    camera.reshape(w / h);
    this.look();
  },
  /* Coarse at once, fine when the hand rests. */
  look(cut = false) {
    if (cut) { this.tellAgain(); section.again(); }
    this.moving = this.stale = true;
    this.mark();
    clearTimeout(this.rest);
    this.rest = setTimeout(() => { if (replay.busy || player.playing) return; this.moving = false; this.stale = true; this.mark(); }, 200);
  },
  /* Only what lies over the surface is drawn anew, unless the surface is stale, too. */
  mark() {
    if (this.frame) return;
    this.frame = requestAnimationFrame(() => {
      this.frame = 0;
      if (this.stale) surface.draw(this.moving);
      this.stale = false;
      overlay.draw(this.moving);
    });
  },
  place(e) { const box = this.stage.getBoundingClientRect(); return [e.clientX - box.left, e.clientY - box.top]; },
  hit(e) { return camera.hit(...this.place(e), this.stage.clientWidth, this.stage.clientHeight); },
  pointerdown(e) {
    this.stage.setPointerCapture(e.pointerId);
    this.fingers.set(e.pointerId, this.place(e)); this.hand = null; this.walked = 0;
    if (this.tool === "section") { const at = this.hit(e); if (at) section.begin(at); }
  },
  pointermove(e) {
    const at = this.place(e), before = this.fingers.get(e.pointerId);
    if (!before) { this.tell(this.hit(e)); return; }
    this.fingers.set(e.pointerId, at);
    if (this.fingers.size === 2) return this.pinch();
    const dx = at[0] - before[0], dy = at[1] - before[1];
    this.walked += Math.abs(dx) + Math.abs(dy);
    if (this.tool === "section") { const place = this.hit(e); if (place) section.reach(place); return; }
    if (e.buttons & 2 || e.shiftKey || this.tool === "move") this.pan(dx, dy); else this.turn(dx * 0.006, dy * 0.006);
  },
  pointerup(e) {
    this.fingers.delete(e.pointerId); this.hand = null;
    if (this.walked < 6) { this.tell(this.hit(e)); this.flag(this.place(e)); }
  },
  pointercancel(e) { this.fingers.delete(e.pointerId); this.hand = null; },
  pinch() {
    const [a, b] = [...this.fingers.values()], hand = { x: (a[0] + b[0]) / 2, y: (a[1] + b[1]) / 2, wide: Math.hypot(a[0] - b[0], a[1] - b[1]) };
    if (this.hand) { this.pan(hand.x - this.hand.x, hand.y - this.hand.y); this.zoom(this.hand.wide / hand.wide); }
    this.hand = hand;
  },
  wheel(e) {
    if (!e.ctrlKey && document.activeElement !== this.stage && !this.stage.matches(":focus-within, :active")) return;
    e.preventDefault(); this.zoom(Math.exp(e.deltaY * 0.0012), this.hit(e));
  },
  turn(by, tilt) {
    camera.turn -= by; camera.tilt = Math.min(1.5707, Math.max(0.15, camera.tilt + tilt)); this.look();
  },
  /* Millimetres of the board under one pixel, in the middle of the view. */
  onePixel() { return 2 * Math.tan(camera.fov / 2) * camera.distance / this.stage.clientHeight; },
  pan(dx, dy) {
    const one = this.onePixel(), { right: r } = camera.axes();
    const up = [Math.sin(camera.turn), Math.cos(camera.turn)], steep = Math.max(0.3, Math.sin(camera.tilt));
    camera.target[0] += -dx * one * r[0] + dy * one / steep * up[0];
    camera.target[1] += -dx * one * r[1] + dy * one / steep * up[1];
    this.look();
  },
  zoom(by, towards) {
    const least = board.finest * 6, most = 4 * (board.width + board.depth), to = Math.min(most, Math.max(least, camera.distance * by));
    const part = to / camera.distance;
    if (towards) for (const [k, v] of [[0, towards.x], [1, towards.y]]) camera.target[k] = v + (camera.target[k] - v) * part;
    camera.distance = to; this.look();
  },
  keydown(e) {
    const step = 0.08, far = 0.08 * this.stage.clientHeight;
    const arrows = { ArrowLeft: [1, 0], ArrowRight: [-1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[e.key];
    if (e.ctrlKey || e.altKey || e.metaKey) return;
    if (arrows) e.shiftKey ? this.turn(-arrows[0] * step, -arrows[1] * step) : this.pan(arrows[0] * far, arrows[1] * far);
    else if (e.key === "+" || e.key === "=") this.zoom(0.8);
    else if (e.key === "-") this.zoom(1.25);
    else if (e.key === "0") { camera.whole(); this.look(); }
    else if (e.key === "t") this.above();
    else if (e.key === "n" || e.key === "p") this.next(e.key === "n" ? 1 : -1);
    else if (e.key === " " && model.replay) player.toggle();
    else if ((e.key === "." || e.key === ",") && model.replay) player.step(e.key === "." ? 1 : -1);
    else return;
    e.preventDefault(); this.tellMiddle();
  },
  tellMiddle() { this.tell(camera.hit(this.stage.clientWidth / 2, this.stage.clientHeight / 2, this.stage.clientWidth, this.stage.clientHeight)); },
  above() { camera.tilt = 1.5707; camera.turn = 0; this.look(); },
  next(by) {
    if (!model.marks.length) return;
    const now = model.marks.findIndex((m) => m.number === overlay.chosen), n = model.marks.length;
    this.fly(model.marks[now < 0 ? (by > 0 ? 0 : n - 1) : (now + by + n) % n].number);
  },
  /* X, Y, height, distance from the wanted face, and the line that cut there last. */
  tell(hit) {
    overlay.pointed = hit;
    this.mark();
    if (!hit) { this.readout.textContent = "Beside the board."; return; }
    const off = hit.z - hit.wanted, sign = units.sign;
    const wanted = Number.isNaN(off) ? "no face wanted here" : Math.abs(off) < 0.5e-3 ? "on the wanted face" :
      `${shown(Math.abs(off))} ${sign} ${off > 0 ? "above" : "below"} the wanted face`;
    this.readout.textContent = `X${shown(hit.x, 2)} Y${shown(hit.y, 2)} Z${shown(hit.z)} ${sign} · ${wanted} · ${board.lineText(hit.by)}${ridges.told(hit.x, hit.y, Math.max(board.cell, 6 * this.onePixel()))}`;
  },
  tellAt(x, y) { this.tell(board.at(x, y)); },
  /* The place that is pointed at, after the board was cut. */
  tellAgain() { if (overlay.pointed) this.tellAt(overlay.pointed.x, overlay.pointed.y); },
  /* A number on a pole that was touched: its reason comes into view. */
  flag([x, y]) {
    const flag = overlay.flags.findLast(([a, b]) => Math.hypot(a - x, b - y) < 16);
    if (!flag) return;
    this.choose(flag[2]);
    document.getElementById(`finding-${flag[2]}`).scrollIntoView({ block: "nearest" });
  },
  choose(number) {
    overlay.chosen = number; this.mark();
    for (const card of document.querySelectorAll(".finding.chosen")) card.classList.remove("chosen");
    const card = document.getElementById(`finding-${number}`);
    card.classList.add("chosen"); card.querySelector("details").open = true;
  },
  fly(number) {
    const mark = model.marks.find((m) => m.number === number);
    if (!mark) return;
    this.choose(number);
    this.flyTo(mark.at[0], mark.at[1]);
  },
  flyTo(x, y) {
    const box = this.stage.getBoundingClientRect();
    if (box.top < 0 || box.bottom > window.innerHeight) this.stage.scrollIntoView({ block: "center" });
    const from = { target: camera.target.slice(), distance: camera.distance };
    const near = Math.min(camera.distance, 0.35 * Math.max(board.width, board.depth) / Math.tan(camera.fov / 2) / 2);
    const cell = board.at(x, y), ground = cell ? lift(cell.z, hollow(cell)) : board.level;
    const still = matchMedia("(prefers-reduced-motion: reduce)").matches, begun = performance.now();
    const step = (now) => {
      const t = still ? 1 : Math.min(1, Math.max(0, (now - begun) / 450)), s = t * t * (3 - 2 * t);
      camera.target[0] = from.target[0] + (x - from.target[0]) * s;
      camera.target[1] = from.target[1] + (y - from.target[1]) * s;
      camera.target[2] = from.target[2] + (ground - from.target[2]) * s;
      camera.distance = from.distance + (near - from.distance) * s;
      this.look();
      if (t < 1) requestAnimationFrame(step); else this.tellAt(x, y);
    };
    requestAnimationFrame(step);
  },
  controls() {
    const on = (id, event, act) => document.getElementById(id).addEventListener(event, act);
    on("colour", "change", (e) => { surface.mode = Number(e.target.value); this.key(); this.look(); });
    on("exaggerate", "input", (e) => { camera.exaggeration = Number(e.target.value); document.getElementById("times").textContent = `${e.target.value} times`; this.look(); });
    on("whole", "click", () => { camera.whole(); this.look(); });
    on("above", "click", () => this.above());
    on("nearer", "click", () => this.zoom(0.75)); on("farther", "click", () => this.zoom(1.33));
    for (const box of this.element.querySelectorAll("[data-layer]"))
      box.addEventListener("change", async () => {
        overlay.shown[box.dataset.layer] = box.checked;
        if (box.checked && box.dataset.layer === "path" && !overlay.ways) await overlay.unpackPath();
        this.key(); this.mark();
      });
    for (const choice of this.element.querySelectorAll("[name=tool]"))
      choice.addEventListener("change", () => { this.tool = choice.value; if (this.tool === "section") section.open(section.tabs[1]); });
    camera.exaggeration = Number(document.getElementById("exaggerate").value);
    if (!board.levels.length) { surface.mode = 1; document.getElementById("colour").value = "1"; }
    this.key();
  },
  /* What the colours mean. */
  key() {
    const sign = units.sign, tolerance = shown(board.tolerance), one = shown(1 + board.tolerance, 2);
    const words = [
      [["at-size", `within ${tolerance} ${sign} of the wanted face`], ["left", `above it, darkest from ${one} ${sign}`], ["deep", `below it, darkest from ${one} ${sign}`], ["plain", "no face wanted"]],
      [["height", `from Z${shown(board.lowest)} (dark) to Z${shown(board.highest)} (light) ${sign}`]],
      [["tones", "a tone for each program line"], ["hollow", "not cut"]],
      [["tones", `a tone for each stage: ${model.stages.join(", ")}`], ["hollow", "not cut"]],
    ][surface.mode];
    if (model.ridges && overlay.shown.ridges) words.push(["ridge", `ridge between passes, up to ${fine(model.ridges.highest)} ${sign}`]);
    const key = document.getElementById("colour-key");
    key.replaceChildren(...words.map(([name, text]) => {
      const item = document.createElement("span"), swatch = document.createElement("i");
      swatch.className = `sw ${name}`; item.append(swatch, text); return item;
    }));
  },
};
/* On paper all is open; the sheets alone unless everything was asked for. */
const details = document.querySelectorAll("details");
addEventListener("beforeprint", () => { for (const d of details) { d.dataset.was = d.open; d.open = true; } });
addEventListener("afterprint", () => { for (const d of details) d.open = d.dataset.was === "true"; document.documentElement.classList.remove("everything"); });
for (const button of document.querySelectorAll(".press"))
  button.addEventListener("click", () => { document.documentElement.classList.toggle("everything", button.dataset.print === "all"); print(); });
view.start().then(() => { section.start(); along.start(); player.start(); }).catch((why) => {
  view.element.classList.add("still"); document.getElementById("along").hidden = true;
  document.getElementById("why-still").textContent = `This browser cannot draw the surface so that it can be turned (${why.message}). The picture shows it from above.`;
});
