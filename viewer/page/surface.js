"use strict";
/* The surface in WebGL2. Heights stay whole numbers in textures of at most 1024 x 1024; a mesh without a single
   buffer reads them, and every pixel is coloured and lit from the full data, whatever the mesh's step. */
const CORE = 1020, BORDER = 2, SIDE = CORE + 2 * BORDER;
const COMMON = `#version 300 es
precision highp float; precision highp int; precision highp usampler2D;
uniform usampler2D heights; uniform usampler2D facts;
uniform float low, quantum, level, deepest, exaggeration;
float z_of(ivec2 c) { return low + float(texelFetch(heights, c, 0).r) * quantum; }
bool off_board(ivec2 c) { return texelFetch(heights, c, 0).r == 65535u; }
`;
const VERTEX = COMMON + `
uniform mat4 view; uniform ivec2 size; uniform int step_; uniform vec2 corner; uniform float cell;
out vec2 at; out float w_;
void main() {
  ivec2 c = min(ivec2(gl_VertexID >> 1, gl_InstanceID + (gl_VertexID & 1)) * step_, size);
  at = vec2(c + ${BORDER});
  float z = off_board(ivec2(at)) ? level : z_of(ivec2(at));
  gl_Position = view * vec4(corner + (vec2(c) + 0.5) * cell, level + max(z - level, -deepest) * exaggeration, 1.0);
}`;
const FRAGMENT = COMMON + `
in vec2 at; out vec4 colour;
uniform int mode, reach; uniform float cell, tolerance, lowest, highest, levels[64];
uniform vec3 at_size, plain, left_low, left_high, deep_low, deep_high, hollow;
vec3 by_distance(ivec2 c) {
  float worst = 0.0; int many = 0; bool wanted = false;
  for (int dy = -reach; dy <= reach; dy++) {
    for (int dx = -reach; dx <= reach; dx++) {
      ivec2 p = clamp(c + ivec2(dx, dy), ivec2(0), ivec2(${SIDE - 1}));
      uint k = texelFetch(facts, p, 0).b, h = texelFetch(heights, p, 0).r;
      if (k == 0u || h == 65535u) continue;
      float off = low + float(h) * quantum - levels[min(int(k) - 1, 63)];
      wanted = true; if (abs(off) > abs(worst)) worst = off;
    } }
  if (!wanted || texelFetch(facts, c, 0).b == 0u) return z_of(c) < level - 1.0 ? hollow : plain;
  float beyond = abs(worst) - tolerance;
  if (beyond <= 0.0) return at_size;
  return worst > 0.0 ? mix(left_low, left_high, min(beyond, 1.0)) : mix(deep_low, deep_high, min(beyond, 1.0));
}
vec3 by_height(float z) {
  float t = clamp((z - lowest) / (highest - lowest), 0.0, 1.0);
  return t < 0.5 ? mix(vec3(0.10, 0.16, 0.30), vec3(0.48, 0.56, 0.62), t * 2.0)
                 : mix(vec3(0.48, 0.56, 0.62), vec3(0.98, 0.94, 0.84), t * 2.0 - 1.0);
}
void main() {
  ivec2 c = ivec2(at + 0.5);
  if (off_board(c)) discard;
  uvec4 f = texelFetch(facts, c, 0);
  vec3 base = plain;
  if (mode == 0) base = by_distance(c);
  else if (mode == 1) base = by_height(z_of(c));
  else if (mode == 2) base = f.g == 0u ? hollow : mix(vec3(0.24, 0.36, 0.50), vec3(0.93, 0.88, 0.76), float(f.r) / 255.0);
  else base = f.g == 0u ? hollow : mix(vec3(0.93, 0.88, 0.76), vec3(0.20, 0.34, 0.52), fract(float(f.g - 1u) * 0.618034));
  int n = max(1, reach);
  ivec2 a = max(c - n, ivec2(0)), b = min(c + n, ivec2(${SIDE - 1}));
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
    const gl = canvas.getContext("webgl2", { antialias: false, alpha: true, premultipliedAlpha: true });
    if (!gl) return false;
    this.gl = gl; this.canvas = canvas;
    this.program = this.linked(VERTEX, FRAGMENT);
    if (!this.program) return false;
    gl.useProgram(this.program); gl.enable(gl.DEPTH_TEST); gl.pixelStorei(gl.UNPACK_ALIGNMENT, 1);
    for (let j = 0; j < board.ny; j += CORE) for (let i = 0; i < board.nx; i += CORE) this.tiles.push(this.tile(i, j));
    this.constants();
    return gl.getError() === gl.NO_ERROR;
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
  /* Cells i0 - BORDER up to i0 + CORE + BORDER of the map as two textures; the outermost cells repeat. */
  tile(i0, j0) {
    const h = new Uint16Array(SIDE * SIDE), f = new Uint8Array(4 * SIDE * SIDE), { nx, ny } = board;
    for (let q = 0; q < SIDE; q++) for (let p = 0; p < SIDE; p++) {
      const i = Math.min(nx - 1, Math.max(0, i0 + p - BORDER)), j = Math.min(ny - 1, Math.max(0, j0 + q - BORDER));
      const n = j * nx + i, o = q * SIDE + p, by = board.by[n];
      h[o] = board.h[n];
      f[4 * o] = (by * 0.6180339887 % 1) * 255; f[4 * o + 1] = board.stage[by] + 1; f[4 * o + 2] = board.k[n];
    }
    const gl = this.gl;
    return { i0, j0, w: Math.min(CORE, nx - 1 - i0), d: Math.min(CORE, ny - 1 - j0),
             heights: this.texture(gl.R16UI, gl.RED_INTEGER, gl.UNSIGNED_SHORT, h),
             facts: this.texture(gl.RGBA8UI, gl.RGBA_INTEGER, gl.UNSIGNED_BYTE, f) };
  },
  texture(inner, format, type, data) {
    const gl = this.gl, made = gl.createTexture();
    gl.bindTexture(gl.TEXTURE_2D, made);
    gl.texImage2D(gl.TEXTURE_2D, 0, inner, SIDE, SIDE, 0, format, type, data);
    for (const name of [gl.TEXTURE_MIN_FILTER, gl.TEXTURE_MAG_FILTER]) gl.texParameteri(gl.TEXTURE_2D, name, gl.NEAREST);
    return made;
  },
  at(name) { return this.gl.getUniformLocation(this.program, name); },
  constants() {
    const gl = this.gl, set = (name, v) => gl.uniform1f(this.at(name), v);
    set("low", board.low); set("quantum", board.quantum); set("level", board.level); set("cell", board.cell);
    set("tolerance", board.tolerance); set("lowest", board.lowest); set("highest", board.highest);
    const levels = new Float32Array(64); levels.set(board.levels.slice(0, 64)); gl.uniform1fv(this.at("levels"), levels);
    for (const name of ["at_size", "plain", "left_low", "left_high", "deep_low", "deep_high", "hollow"])
      gl.uniform3fv(this.at(name), model.colours[name.toUpperCase()].map((c) => c / 255));
    gl.uniform1i(this.at("heights"), 0); gl.uniform1i(this.at("facts"), 1);
  },
  /* Cells that one pixel covers in the middle of the view. */
  cellsAPixel() { return 2 * Math.tan(camera.fov / 2) * camera.distance / this.canvas.height / board.cell; },
  draw(moving) {
    const gl = this.gl, { canvas } = this, cells = this.cellsAPixel();
    gl.viewport(0, 0, canvas.width, canvas.height);
    gl.clearColor(0, 0, 0, 0); gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    const view = camera.matrix();
    gl.uniformMatrix4fv(this.at("view"), false, view);
    gl.uniform1f(this.at("exaggeration"), camera.exaggeration); gl.uniform1f(this.at("deepest"), deepest());
    gl.uniform1i(this.at("mode"), this.mode);
    gl.uniform1i(this.at("reach"), moving ? 0 : Math.min(8, Math.floor(cells / 2 + 0.25)));
    const step = Math.max(1, Math.floor(cells * (moving ? 6 : 1)));
    gl.uniform1i(this.at("step_"), step);
    for (const tile of this.tiles) if (this.inView(tile, view)) this.drawTile(tile, step);
  },
  drawTile(tile, step) {
    const gl = this.gl, columns = Math.ceil(tile.w / step), rows = Math.ceil(tile.d / step);
    gl.activeTexture(gl.TEXTURE0); gl.bindTexture(gl.TEXTURE_2D, tile.heights);
    gl.activeTexture(gl.TEXTURE1); gl.bindTexture(gl.TEXTURE_2D, tile.facts);
    gl.uniform2i(this.at("size"), tile.w, tile.d);
    gl.uniform2f(this.at("corner"), board.x0 + tile.i0 * board.cell, board.y0 + tile.j0 * board.cell);
    gl.drawArraysInstanced(gl.TRIANGLE_STRIP, 0, 2 * (columns + 1), rows);
  },
  /* A tile is left out when its box lies wholly on one side of the picture. */
  inView(tile, m) {
    const outside = [0, 0, 0, 0];
    const xs = [tile.i0, tile.i0 + tile.w + 1].map((i) => board.x0 + i * board.cell);
    const ys = [tile.j0, tile.j0 + tile.d + 1].map((j) => board.y0 + j * board.cell);
    for (const x of xs) for (const y of ys) for (const z of [lift(board.highest + 1), lift(board.level - 100)]) {
      const w = m[3] * x + m[7] * y + m[11] * z + m[15];
      const px = m[0] * x + m[4] * y + m[8] * z + m[12], py = m[1] * x + m[5] * y + m[9] * z + m[13];
      if (px < -w) outside[0]++; if (px > w) outside[1]++; if (py < -w) outside[2]++; if (py > w) outside[3]++;
    }
    return Math.max(...outside) < 8;
  },
};
