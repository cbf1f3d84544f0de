"use strict";
/* The surface in WebGL2. Heights stay whole numbers in textures of at most 1024 x 1024; a mesh without a single
   buffer reads them, and every pixel is coloured and lit from the full data, whatever the mesh's step. */
const CORE = 1020, BORDER = 2, WINDOWS = 24;
const COMMON = `#version 300 es
precision highp float; precision highp int; precision highp usampler2D;
uniform usampler2D heights; uniform usampler2D wanted; uniform usampler2D by; uniform ivec2 shift, room;
uniform float level, deepest, hollow_part, exaggeration, cell;
uniform vec3 steps[3];
float height_of(uint whole) {
  float h = float(whole);
  vec3 s = h < steps[1].x ? steps[0] : h < steps[2].x ? steps[1] : steps[2];
  return s.y + (h - s.x) * s.z;
}
float z_of(ivec2 c) { return height_of(texelFetch(heights, c, 0).r); }
bool off_board(ivec2 c) { return texelFetch(heights, c, 0).r == 65535u; }
`;
const VERTEX = COMMON + `
uniform mat4 view; uniform ivec2 size; uniform int step_; uniform vec2 corner;
out vec2 at; out vec2 place;
void main() {
  ivec2 c = min(ivec2(gl_VertexID >> 1, gl_InstanceID + (gl_VertexID & 1)) * step_, size);
  at = vec2(c + shift); place = corner + (vec2(c) + 0.5) * cell;
  float z = off_board(ivec2(at)) ? level : z_of(ivec2(at));
  float most = texelFetch(wanted, ivec2(at), 0).r == 0u ? deepest * hollow_part : deepest;
  gl_Position = view * vec4(place, level + max(z - level, -most) * exaggeration, 1.0);
}`;
const FRAGMENT = COMMON + `
in vec2 at; in vec2 place; out vec4 colour;
uniform int mode, reach, stages, windows; uniform float tolerance, lowest, highest, levels[64];
uniform vec4 window_[${WINDOWS}]; uniform int since[64];
uniform vec3 at_size, plain, left_low, left_high, deep_low, deep_high, hollow, low_, high_;
vec3 by_distance(ivec2 c) {
  float worst = 0.0; int many = 0; bool known = false;
  for (int dy = -reach; dy <= reach; dy++) {
    for (int dx = -reach; dx <= reach; dx++) {
      ivec2 p = clamp(c + ivec2(dx, dy), ivec2(0), room - 1);
      uint k = texelFetch(wanted, p, 0).r, h = texelFetch(heights, p, 0).r;
      if (k == 0u || h == 65535u) continue;
      float off = height_of(h) - levels[min(int(k) - 1, 63)];
      known = true; if (abs(off) > abs(worst)) worst = off;
    } }
  if (!known || texelFetch(wanted, c, 0).r == 0u) return z_of(c) < level - 1.0 ? hollow : plain;
  float beyond = abs(worst) - tolerance;
  if (beyond <= 0.0) return at_size;
  return worst > 0.0 ? mix(left_low, left_high, min(beyond, 1.0)) : mix(deep_low, deep_high, min(beyond, 1.0));
}
vec3 by_height(float z) {
  float t = clamp((z - lowest) / (highest - lowest), 0.0, 1.0);
  return mix(low_, high_, t);
}
float tone(int n) { return fract(float(n) * 0.6180339887); }
int stage_of(int row) { int n = 0; for (int k = 1; k < 64; k++) if (k < stages && row >= since[k]) n = k; return n; }
void main() {
  ivec2 c = clamp(ivec2(at + 0.5), ivec2(0), room - 1);
  for (int k = 0; k < windows; k++) if (all(greaterThan(place, window_[k].xy)) && all(lessThan(place, window_[k].zw))) discard;
  if (off_board(c)) discard;
  int row = int(texelFetch(by, c, 0).r);
  vec3 base = plain;
  if (mode == 0) base = by_distance(c);
  else if (mode == 1) base = by_height(z_of(c));
  else if (row < since[0]) base = hollow;
  else if (mode == 2) base = mix(vec3(0.24, 0.36, 0.50), vec3(0.93, 0.88, 0.76), tone(row));
  else base = mix(vec3(0.93, 0.88, 0.76), vec3(0.20, 0.34, 0.52), tone(stage_of(row)));
  int n = max(1, reach);
  ivec2 a = max(c - n, ivec2(0)), b = min(c + n, room - 1);
  float zc = z_of(c);
  float x0 = off_board(ivec2(a.x, c.y)) ? zc : z_of(ivec2(a.x, c.y)), x1 = off_board(ivec2(b.x, c.y)) ? zc : z_of(ivec2(b.x, c.y));
  float y0 = off_board(ivec2(c.x, a.y)) ? zc : z_of(ivec2(c.x, a.y)), y1 = off_board(ivec2(c.x, b.y)) ? zc : z_of(ivec2(c.x, b.y));
  vec2 slope = clamp(vec2(x1 - x0, y1 - y0) / (2.0 * float(n) * cell) * max(4.0, exaggeration), -1.2, 1.2);
  vec3 light = normalize(vec3(-0.45, 0.55, 0.70));
  float lit = (light.z - dot(slope, light.xy)) / sqrt(1.0 + dot(slope, slope)) / light.z;
  colour = vec4(base * clamp(lit, 0.55, 1.25), 1.0);
}`;
const surface = {
  mode: 0, tiles: [],
  start(canvas) {
    this.tiles = []; this.places = {};
    const gl = canvas.getContext("webgl2", { antialias: false, alpha: true, premultipliedAlpha: true });
    if (!gl) return false;
    this.gl = gl; this.canvas = canvas;
    this.program = this.linked(VERTEX, FRAGMENT);
    if (!this.program) return false;
    gl.useProgram(this.program); gl.enable(gl.DEPTH_TEST); gl.pixelStorei(gl.UNPACK_ALIGNMENT, 1);
    for (const grid of grids)
      for (let j = 0; j < grid.ny - 1; j += CORE) for (let i = 0; i < grid.nx - 1; i += CORE) this.tiles.push(this.tile(grid, i, j));
    this.constants();
    return gl.getError() === gl.NO_ERROR;
  },
  /* A browser may take the graphics away, and give them back. */
  watch() {
    this.canvas.addEventListener("webglcontextlost", (e) => { e.preventDefault(); this.lost = true; });
    this.canvas.addEventListener("webglcontextrestored", () => { this.lost = false; this.start(this.canvas); view.look(); });
  },
  linked(vertex, fragment) {
    const gl = this.gl, program = gl.createProgram();
    for (const [kind, text] of [[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, fragment]]) {
      const shader = gl.createShader(kind); gl.shaderSource(shader, text); gl.compileShader(shader); gl.attachShader(program, shader);
      if (!gl.getShaderParameter(shader, gl.COMPILE_STATUS)) console.error(gl.getShaderInfoLog(shader));
    }
    gl.linkProgram(program);
    return gl.getProgramParameter(program, gl.LINK_STATUS) ? program : null;
  },
  /* Cells i0 - BORDER up to i0 + CORE + BORDER of a map, as far as it goes, as three textures. */
  tile(grid, i0, j0) {
    const a = Math.max(0, i0 - BORDER), c = Math.max(0, j0 - BORDER), gl = this.gl;
    const tile = { grid, i0, j0, a, c, nx: Math.min(grid.nx, i0 + CORE + BORDER + 1) - a, ny: Math.min(grid.ny, j0 + CORE + BORDER + 1) - c,
                   w: Math.min(CORE, grid.nx - 1 - i0), d: Math.min(CORE, grid.ny - 1 - j0) };
    const wide = grid.by.BYTES_PER_ELEMENT === 4;
    tile.layers = [[grid.h, gl.R16UI, gl.UNSIGNED_SHORT], [grid.k, gl.R8UI, gl.UNSIGNED_BYTE],
                   [grid.by, wide ? gl.R32UI : gl.R16UI, wide ? gl.UNSIGNED_INT : gl.UNSIGNED_SHORT]].map(([data, inner, type]) => {
      const made = gl.createTexture();
      gl.bindTexture(gl.TEXTURE_2D, made); gl.texStorage2D(gl.TEXTURE_2D, 1, inner, tile.nx, tile.ny);
      for (const name of [gl.TEXTURE_MIN_FILTER, gl.TEXTURE_MAG_FILTER]) gl.texParameteri(gl.TEXTURE_2D, name, gl.NEAREST);
      return { texture: made, data, type };
    });
    this.send(tile, tile.layers, a, a + tile.nx - 1, c, c + tile.ny - 1);
    return tile;
  },
  /* Columns i0 to i1 of rows j0 to j1 of the map to a tile's textures. */
  send(tile, layers, i0, i1, j0, j1) {
    const gl = this.gl;
    gl.pixelStorei(gl.UNPACK_ROW_LENGTH, tile.grid.nx); gl.pixelStorei(gl.UNPACK_SKIP_PIXELS, i0); gl.pixelStorei(gl.UNPACK_SKIP_ROWS, j0);
    for (const { texture, data, type } of layers) {
      gl.bindTexture(gl.TEXTURE_2D, texture);
      gl.texSubImage2D(gl.TEXTURE_2D, 0, i0 - tile.a, j0 - tile.c, i1 - i0 + 1, j1 - j0 + 1, gl.RED_INTEGER, type, data);
    }
    for (const name of [gl.UNPACK_ROW_LENGTH, gl.UNPACK_SKIP_PIXELS, gl.UNPACK_SKIP_ROWS]) gl.pixelStorei(name, 0);
  },
  /* What has been cut since the last look goes to the textures. */
  refresh() {
    for (const tile of this.tiles) {
      const b = tile.grid.stale;
      if (!b) continue;
      const i0 = Math.max(b[0], tile.a), i1 = Math.min(b[1], tile.a + tile.nx - 1), j0 = Math.max(b[2], tile.c), j1 = Math.min(b[3], tile.c + tile.ny - 1);
      if (i0 <= i1 && j0 <= j1) this.send(tile, [tile.layers[0], tile.layers[2]], i0, i1, j0, j1);
    }
    for (const grid of grids) grid.stale = null;
  },
  at(name) { return this.places[name] ??= this.gl.getUniformLocation(this.program, name); },
  places: {},
  constants() {
    const gl = this.gl, set = (name, v) => gl.uniform1f(this.at(name), v);
    set("level", board.level); set("hollow_part", board.levels.length ? HOLLOW : 1);
    set("tolerance", board.tolerance); set("lowest", board.lowest); set("highest", board.highest);
    const levels = new Float32Array(64); levels.set(board.levels.slice(0, 64)); gl.uniform1fv(this.at("levels"), levels);
    for (const name of ["at_size", "plain", "left_low", "left_high", "deep_low", "deep_high", "hollow", "low_", "high_"])
      gl.uniform3fv(this.at(name), model.colours[name.toUpperCase().replace(/_$/, "")].map((c) => c / 255));
    gl.uniform3fv(this.at("steps"), [0, 1, 2].flatMap((k) => steps[k] || [65536, 0, 1]));
    const since = model.stages.map((_, n) => board.stage.indexOf(n)), first = new Int32Array(64).fill(0x7fffffff);
    since.slice(0, 64).forEach((row, n) => { if (row >= 0) first[n] = row; });
    gl.uniform1iv(this.at("since"), first); gl.uniform1i(this.at("stages"), since.length);
    const holes = new Float32Array(4 * WINDOWS);
    board.windows.slice(0, WINDOWS).forEach((g, n) => holes.set([g.x0 + g.cell / 2, g.y0 + g.cell / 2, g.x0 + g.width - g.cell / 2, g.y0 + g.depth - g.cell / 2], 4 * n));
    gl.uniform4fv(this.at("window_"), holes);
    gl.uniform1i(this.at("heights"), 0); gl.uniform1i(this.at("wanted"), 1); gl.uniform1i(this.at("by"), 2);
  },
  /* Cells that one pixel covers in the middle of the view. */
  cellsAPixel(grid) { return 2 * Math.tan(camera.fov / 2) * camera.distance / this.canvas.height / grid.cell; },
  draw(moving) {
    const gl = this.gl, { canvas } = this;
    if (this.lost) return;
    this.refresh();
    gl.viewport(0, 0, canvas.width, canvas.height);
    gl.clearColor(0, 0, 0, 0); gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    const view = camera.matrix();
    gl.uniformMatrix4fv(this.at("view"), false, view);
    gl.uniform1f(this.at("exaggeration"), camera.exaggeration); gl.uniform1f(this.at("deepest"), deepest());
    gl.uniform1i(this.at("mode"), this.mode);
    for (const tile of this.tiles) if (this.inView(tile, view)) this.drawTile(tile, moving);
  },
  drawTile(tile, moving) {
    const gl = this.gl, { grid } = tile, cells = this.cellsAPixel(grid), step = Math.max(1, Math.floor(cells * (moving ? 6 : 1)));
    tile.layers.forEach(({ texture }, n) => { gl.activeTexture(gl.TEXTURE0 + n); gl.bindTexture(gl.TEXTURE_2D, texture); });
    gl.activeTexture(gl.TEXTURE0);
    gl.uniform1i(this.at("reach"), moving ? 0 : Math.min(8, Math.floor(cells / 2 + 0.25)));
    gl.uniform1i(this.at("step_"), step); gl.uniform1f(this.at("cell"), grid.cell);
    gl.uniform1i(this.at("windows"), grid === board.whole ? Math.min(WINDOWS, board.windows.length) : 0);
    gl.uniform2i(this.at("size"), tile.w, tile.d); gl.uniform2i(this.at("room"), tile.nx, tile.ny); gl.uniform2i(this.at("shift"), tile.i0 - tile.a, tile.j0 - tile.c);
    gl.uniform2f(this.at("corner"), grid.x0 + tile.i0 * grid.cell, grid.y0 + tile.j0 * grid.cell);
    gl.drawArraysInstanced(gl.TRIANGLE_STRIP, 0, 2 * (Math.ceil(tile.w / step) + 1), Math.ceil(tile.d / step));
  },
  /* A tile is left out when its box lies wholly on one side of the picture. */
  inView(tile, m) {
    const outside = [0, 0, 0, 0];
    const { grid } = tile, xs = [tile.i0, tile.i0 + tile.w + 1].map((i) => grid.x0 + i * grid.cell);
    const ys = [tile.j0, tile.j0 + tile.d + 1].map((j) => grid.y0 + j * grid.cell);
    for (const x of xs) for (const y of ys) for (const z of [lift(board.highest + 1), lift(board.level - 100)]) {
      const w = m[3] * x + m[7] * y + m[11] * z + m[15];
      const px = m[0] * x + m[4] * y + m[8] * z + m[12], py = m[1] * x + m[5] * y + m[9] * z + m[13];
      if (px < -w) outside[0]++; if (px > w) outside[1]++; if (py < -w) outside[2]++; if (py > w) outside[3]++;
    }
    return Math.max(...outside) < 8;
  },
};
