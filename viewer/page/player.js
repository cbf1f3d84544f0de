"use strict";
/* The bar under the view: play, step, drag through time; the program line that runs along. */
const AROUND = 3;
const player = {
  time: 0, playing: false,
  start() {
    if (!model.replay) return;
    for (const id of ["play", "scrub", "pace", "clock", "lines", "finish", "back", "forth"]) this[id] = document.getElementById(id);
    this.play.addEventListener("click", () => this.toggle());
    this.back.addEventListener("click", () => this.step(-1));
    this.forth.addEventListener("click", () => this.step(1));
    this.finish.addEventListener("click", () => { this.playing = false; this.goTo(replay.total); });
    this.scrub.addEventListener("input", () => { this.playing = false; replay.load().then(() => this.goTo(Number(this.scrub.value))); });
    replay.length().then((total) => { this.scrub.max = total; this.scrub.step = total / 2000; this.scrub.value = total; });
    this.lines.addEventListener("click", (e) => { const row = e.target.closest("[data-line]"); if (row && this.now) this.goToLine(this.now.stage, Number(row.dataset.line), null); });
    this.lines.textContent = "The finished board. Play, or drag the bar, to see it cut.";
  },
  get finished() { return !replay.there || replay.k === replay.n; },
  async goTo(time) { await replay.load(); this.time = Math.min(replay.total, Math.max(0, time)); return replay.seek(this.time); },
  async toggle() {
    this.playing = !this.playing;
    await replay.load();
    if (this.playing) {
      if (this.time >= replay.total || this.finished) await this.goTo(0);
      this.last = performance.now(); this.tick();
    } else this.show();
  },
  tick() {
    requestAnimationFrame((now) => {
      if (!this.playing) return;
      const gone = Math.min(0.2, Math.max(0, (now - this.last) / 1000)) * this.speed();
      this.last = now;
      /* Where the machine waits for a person, the player waits, too. */
      const stop = replay.stops.find((at) => at > this.time + 1e-6 && at <= this.time + gone);
      this.time = stop ?? this.time + gone;
      if (stop !== undefined || this.time >= replay.total) this.playing = false;
      this.goTo(this.time).then(() => (this.playing ? this.tick() : this.show()));
    });
  },
  /* Seconds of cutting in a second of watching. */
  speed() { const chosen = Number(this.pace.value); return chosen || Math.max(1, replay.total / 40); },
  /* One move on or back: to its end. */
  async step(by) {
    this.playing = false; await replay.load();
    const now = this.finished ? replay.n - 1 : replay.part > 1e-6 || by > 0 ? replay.k : replay.k - 1;
    const to = this.finished ? (by < 0 ? replay.n - 2 : replay.n - 1) : by > 0 ? now : now - 1;
    return this.goTo(to < 0 ? 0 : replay.moves[to].ends);
  },
  /* To a line of a stage: the moment at which it is nearest to a place, its first move's end where none is named. */
  async goToMove(stage, k) { await replay.load(); this.playing = false; return this.goTo(replay.moves[replay.stages[stage].first + Math.floor(k / model.replay.side)].ends - 1e-6); },
  async goToLine(stage, line, at) {
    await replay.load();
    let found = replay.moves.map((move, m) => [move, m]).filter(([move]) => move.stage === stage && move.line === line);
    const run = replay.passed && replay.passed[replay.rows.get(stage * 1e7 + line)];
    if (!found.length && run >= 0) found = [[replay.moves[run], run]];
    if (!found.length) return;
    if (!at) { this.playing = false; const [move] = found[0]; return this.goTo(move.ends - 1e-6); }
    const far = ([, m]) => { const end = replay.tip(m, 0.5); return end ? Math.hypot(end[0] - at[0], end[1] - at[1]) : Infinity; };
    const [move, m] = found.reduce((a, b) => (far(b) < far(a) ? b : a));
    const part = this.partAt(m, at);
    this.playing = false;
    return this.goTo(move.ends - move.seconds * (1 - part) - 1e-6);
  },
  partAt(m, at) {
    let best = 1, least = Infinity;
    for (let n = 0; n <= 100; n++) { const p = replay.tip(m, n / 100), d = p ? Math.hypot(p[0] - at[0], p[1] - at[1], (p[2] - at[2])) : Infinity; if (d < least) { least = d; best = n / 100; } }
    return best;
  },
  /* What the bar, the lines and the charts say of this moment. */
  show() {
    const m = Math.min(replay.k, replay.n - 1), move = replay.moves[m], done = this.finished;
    this.play.textContent = this.playing ? "Pause" : "Play"; this.play.setAttribute("aria-pressed", String(this.playing));
    if (document.activeElement !== this.scrub || this.playing || done) this.scrub.value = this.time;
    const stage = replay.stages[move.stage], gone = this.time - stage.begins;
    const all = stage.seconds.reduce((a, b) => a + b, 0), said = done ? "finished board" : `stage ${model.stages[move.stage]}, ${span(gone)} of ${span(all)}`;
    this.clock.textContent = said;
    this.scrub.setAttribute("aria-valuetext", done ? said : `${said}, line ${move.line}`);
    this.program(move, done); this.now = done ? null : { stage: move.stage, k: move.k * model.replay.side, m, part: replay.part };
    along.follow(this.now);
    view.look(true);
  },
  program(move, done) {
    const host = this.lines, key = done ? "done" : `${move.stage}:${move.line}`;
    const stop = done ? null : model.replay.stages[move.stage].stops.find((s) => s.before === move.k);
    if (key === this.told && !stop) return;
    this.told = key;
    host.replaceChildren();
    if (done) { host.textContent = "The finished board. Play, or drag the bar, to see it cut."; return; }
    const program = model.programs[move.stage];
    if (!program.lines.length) { host.textContent = `${program.name}, line ${move.line}`; return; }
    for (let n = move.line - AROUND; n <= move.line + AROUND; n++) {
      const row = document.createElement("span"), number = document.createElement("i");
      row.className = n === move.line ? "line here" : "line"; row.dataset.line = n; number.textContent = n >= 1 && n <= program.lines.length ? n : "";
      row.append(number, (program.lines[n - 1] || "").slice(0, 200), "\n"); host.append(row);
    }
    if (stop) { const row = document.createElement("span"); row.className = "line stopped"; row.textContent = `stands still: ${stop.text}`; host.append(row); }
  },
};
const span = (seconds) => {
  const s = Math.max(0, Math.round(seconds)), h = Math.floor(s / 3600), m = Math.floor(s / 60) % 60;
  return `${h ? `${h}:${String(m).padStart(2, "0")}` : m}:${String(s % 60).padStart(2, "0")}`;
};
/* The cutter where it is at this moment, and the way behind it. */
overlay.cutter = function () {
  if (!player.now) return;
  const { m, part } = player.now, tip = replay.tip(m, part), tool = replay.cutterAt(m), { pen, ratio } = this;
  if (!tip || !tool) return;
  const [x, y, z] = tip, foot = stand(z), top = foot + (tool.stickout || 2.2 * tool.r + tool.flute);
  const ring = (r, at) => Array.from({ length: 25 }, (_, n) => [x + r * Math.cos(n * Math.PI / 12), y + r * Math.sin(n * Math.PI / 12), at]);
  pen.strokeStyle = css("INK"); pen.lineWidth = 1.5 * ratio; pen.fillStyle = css("CUTTER"); pen.globalAlpha = 0.55;
  const body = (r, low, high) => {
    const bottom = ring(r, low).map((p) => this.to(...p)), upper = ring(r, high).map((p) => this.to(...p));
    if (bottom.some((p) => !p) || upper.some((p) => !p)) return;
    pen.beginPath(); hull([...bottom, ...upper]).forEach(([a, b], n) => (n ? pen.lineTo(a, b) : pen.moveTo(a, b))); pen.closePath(); pen.fill(); pen.stroke();
    pen.beginPath(); bottom.forEach(([a, b], n) => (n ? pen.lineTo(a, b) : pen.moveTo(a, b))); pen.stroke();
  };
  if (tool.stickout > tool.flute || !tool.stickout) body(tool.shank < tool.r ? tool.shank : tool.r * 0.6, foot + tool.flute, top);
  body(tool.r, foot, foot + tool.flute);
  let at = foot + tool.stickout;
  if (tool.stickout) for (const [r, length] of model.replay.nose) { pen.globalAlpha = 0.3; body(r, at, at + length); at += length; }
  pen.globalAlpha = 1;
};
/* The outline about points of the screen, in order (monotone chain). */
function hull(points) {
  const sorted = points.slice().sort((a, b) => a[0] - b[0] || a[1] - b[1]);
  const half = (list) => list.reduce((kept, p) => {
    while (kept.length > 1) { const [a, b] = kept.slice(-2); if ((b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]) > 0) break; kept.pop(); }
    return [...kept, p];
  }, []);
  return [...half(sorted).slice(0, -1), ...half(sorted.reverse()).slice(0, -1)];
}
