/* The cloth, as motifsearch.draw.stamps and .cloth define it (a test holds the two alike):
   the nodes of the fabric stand on a brick lattice, row r and position i at x = (i + 1), y = (r + 1)
   pitches. A stamp is one knot of two by two pitches, raised from short round bars of thread and
   lit once per kind and size; the stamps of the even rows tile the plane, so do those of the odd
   ones, and where two meet the higher one shows. */

var BACK = 4, THROUGH = 8, WAIT_LEFT = 9, WAIT_RIGHT = 10;

/* A bar: x, y, half length, half width, slant in degrees, height, whether it is the core strand,
   bow, and whether its ends dive. Face and back of `rr` and `rl`; the others are their mirrors. */
function barsOf(stamp) {
  var cross = 40, back = 27, rad = Math.PI / 180, sin = Math.sin(cross * rad), cos = Math.cos(cross * rad);
  if (stamp === THROUGH) { return [[-0.5, 0, 1.02, 0.36, 90, 0.34, 0, 0, 1], [0.5, 0, 1.02, 0.36, 90, 0.34, 1, 0, 1]]; }
  if (stamp >= WAIT_LEFT) { return [[0.66, 0, 1.08, 0.34, 90, 0.44, 0, -0.3, 1]]; }
  var ground = stamp & 2 ? [
    [-0.4, -0.4, 0.62, 0.36, 45, 0.34, 0, 0, 0], [-0.4, 0.4, 0.62, 0.36, -45, 0.34, 0, 0, 0],
    [-0.3, 0, 0.5, 0.34, 90, 0.34, 0, 0, 1],
    [0.4, -0.4, 0.62, 0.36, -45, 0.35, 1, 0, 0], [0.4, 0.4, 0.62, 0.36, 45, 0.35, 1, 0, 0]
  ] : [[0, 0, 1.15, 0.36, 45, 0.34, 0, 0, 0], [0, 0, 1.15, 0.36, -45, 0.35, 1, 0, 0]];
  if (stamp < BACK) {
    return ground.concat(stamp & 2
      ? [[0, -0.34, 0.86, 0.42, back, 0.62, 0, 0.05, 1], [0, 0.34, 0.86, 0.42, -back, 0.61, 0, -0.05, 1]]
      : [[sin * 0.35, -cos * 0.35, 0.82, 0.42, cross, 0.62, 0, 0.05, 1], [-sin * 0.35, cos * 0.35, 0.82, 0.42, cross, 0.61, 0, -0.05, 1]]);
  }
  return ground.concat(stamp & 2
    ? [[0, -0.46, 0.78, 0.3, back, 0.5, 0, 0, 1], [0, 0.46, 0.78, 0.3, -back, 0.5, 0, 0, 1], [0.1, 0, 0.62, 0.36, 88, 0.6, 1, 0, 1]]
    : [[sin * 0.47, -cos * 0.47, 0.7, 0.3, cross, 0.5, 0, 0, 1], [-sin * 0.47, cos * 0.47, 0.7, 0.3, cross, 0.5, 0, 0, 1], [0, 0, 0.66, 0.36, cross - 82, 0.6, 1, 0, 1]]);
}

/* Height, twist and core-strand masks of a stamp on an n by n grid. */
function raise(stamp, n) {
  var mirror = stamp < THROUGH ? stamp & 1 : stamp === WAIT_RIGHT, rad = Math.PI / 180;
  var height = new Float32Array(n * n), twist = new Float32Array(n * n), second = new Float32Array(n * n);
  var bars = barsOf(stamp).map(function (b) { return b.concat([Math.cos(b[4] * rad), Math.sin(b[4] * rad)]); });
  for (var py = 0, at = 0; py < n; py++) {
    var y = (py + 0.5) * 2 / n - 1;
    for (var px = 0; px < n; px++, at++) {
      var x = (px + 0.5) * 2 / n - 1;
      if (mirror) { x = -x; }
      var h = 0, ply = 0, core = 0, inside = Math.abs(x) + Math.abs(y) <= 1.12;
      if (stamp < THROUGH) { if (inside) { h = 0.06; core = 1; } }
      else if (stamp > THROUGH && inside && x > 0.45) { h = 0.06; }
      for (var k = 0; k < bars.length; k++) {
        var b = bars[k], dx = x - b[0], dy = y - b[1], u = (dx * b[9] + dy * b[10]) / b[2];
        if (u > 1 || u < -1) { continue; }
        var v = (dy * b[9] - dx * b[10] + b[7] * (1 - u * u)) / b[3];
        if (v > 1 || v < -1) { continue; }
        var z = b[5] * Math.pow(1 - v * v, 0.35) * (b[8] ? Math.sqrt(1 - Math.abs(u * u * u)) : 1);
        if (z > h) {
          h = z;
          ply = Math.abs(Math.sin(Math.PI * (u * b[2] / 0.23 + Math.asin(v) * 0.55)));
          core = b[6];
        }
      }
      height[at] = h;
      twist[at] = ply;
      second[at] = core;
    }
  }
  return { height: height, twist: twist, second: second };
}

var stampCache = new Map();

/* One stamp of a size: cover, height, light, sheen and second, 2 by 2 pitches. */
function stampOf(stamp, pitch, lightX) {
  var key = stamp + "/" + pitch + "/" + lightX, found = stampCache.get(key);
  if (found) { return found; }
  var k = Math.max(pitch > 30 ? 1 : 2, Math.floor(96 / (2 * pitch))), n = 2 * pitch * k, step = 2 / n, size = 2 * pitch;
  var map = raise(stamp, n), out = {};
  ["cover", "height", "light", "sheen", "second"].forEach(function (name) { out[name] = new Float32Array(size * size); });
  function relief(x, y) { var at = y * n + x, h = map.height[at]; return h > 0 ? h + 0.014 * map.twist[at] : 0; }
  function limited(v) { return v > 3 ? 3 : v < -3 ? -3 : v; }
  var lx = 0.4 * lightX, ly = -0.55, lz = 0.735, long = Math.hypot(lx, ly, lz + 1);
  for (var y = 0; y < n; y++) {
    for (var x = 0; x < n; x++) {
      var h = map.height[y * n + x];
      if (h <= 0.02) { continue; }
      var x0 = Math.max(0, x - 1), x1 = Math.min(n - 1, x + 1), y0 = Math.max(0, y - 1), y1 = Math.min(n - 1, y + 1);
      var gx = limited((relief(x1, y) - relief(x0, y)) / (step * (x1 - x0))), gy = limited((relief(x, y1) - relief(x, y0)) / (step * (y1 - y0)));
      var norm = Math.sqrt(gx * gx + gy * gy + 1), facing = Math.min(1, Math.max(0, (lz - gx * lx - gy * ly) / norm));
      var shine = Math.min(1, Math.max(0, (lz + 1 - gx * lx - gy * ly) / long / norm)), deep = Math.min(1, h / 0.6);
      var light = (0.44 + 0.72 * facing) * (0.24 + 0.76 * Math.pow(deep, 0.6)) * (1 - 0.09 * (1 - map.twist[y * n + x]));
      var at = Math.floor(y / k) * size + Math.floor(x / k);
      out.cover[at] += 1;
      out.height[at] += h;
      out.light[at] += light;
      out.sheen[at] += 0.1 * Math.pow(shine, 9) * deep;
      out.second[at] += map.second[y * n + x];
    }
  }
  for (var i = 0; i < size * size; i++) {
    var c = out.cover[i];
    if (c) { out.height[i] /= c; out.light[i] /= c; out.sheen[i] /= c; out.second[i] /= c; }
    out.cover[i] = c / (k * k);
  }
  if (stampCache.size > 200) { stampCache.clear(); }
  stampCache.set(key, out);
  return out;
}

/* The stamps of lattice rows -1 .. rows as the eye meets them: per row the node of the first one,
   and [stamp, tying, core] for every second node from there. */
function latticeOf(d, rows, back) {
  var played = walk(d, Math.max(rows, d.rows)), S = d.order.length, out = [];
  for (var r = -1; r <= rows; r++) {
    var cells = {}, order = played.orders[Math.min(Math.max(r, 0), rows)], odd = (r + 1) % 2;
    if (r >= 0 && r < rows) {
      for (var n = played.starts[r]; n < played.starts[r + 1]; n++) {
        var knot = played.knots[n];
        cells[knot[1] + 1] = [back ? (knot[2] ^ 1) + BACK : knot[2], knot[3], knot[4]];
      }
    } else {
      for (var node = odd || 2; node < S; node += 2) {
        cells[node] = back ? [THROUGH, order[node], order[node - 1]] : [THROUGH, order[node - 1], order[node]];
      }
    }
    if (odd === 0) { cells[0] = [back ? WAIT_RIGHT : WAIT_LEFT, order[0], order[0]]; }
    if (odd === S % 2) { cells[S] = [back ? WAIT_LEFT : WAIT_RIGHT, order[S - 1], order[S - 1]]; }
    var nodes = Object.keys(cells).map(Number).sort(function (a, b) { return a - b; });
    if (back) { nodes.reverse(); }
    out.push({ first: back ? S - nodes[0] : nodes[0], cells: nodes.map(function (v) { return cells[v]; }) });
  }
  return out;
}

var EMPTY_STAMP = /** @type {any} */ (null);

/* Draws rows 0 .. rows-1 of design `d` on `canvas`, which it sizes: (rows + 1) pitches by S pitches
   and a little room at the sides. opt: rows, pitch (device pixels), hexes (per palette colour), back,
   lying (the start at the left, strand 1 at the bottom). */
function drawBand(canvas, d, opt) {
  var p = opt.pitch, S = d.order.length, pad = Math.max(1, p >> 2), size = 2 * p;
  var wide = S * p + 2 * pad, tall = (opt.rows + 1) * p, lightX = opt.lying ? 1 : -1;
  canvas.width = opt.lying ? tall : wide;
  canvas.height = opt.lying ? wide : tall;
  var g = canvas.getContext("2d"), picture = g.createImageData(canvas.width, canvas.height), out = picture.data;
  var lattice = latticeOf(d, opt.rows, opt.back), rim = p + Math.max(1, p >> 1), full = (S + 2) * p;
  var base = opt.hexes.map(function (h) { return rgbOf(h).map(function (v) { return v / 255; }); });
  var inks = d.order.map(function (c) { return base[c]; });
  if (!EMPTY_STAMP || EMPTY_STAMP.cover.length < size * size) {
    var none = new Float32Array(size * size);
    EMPTY_STAMP = { cover: none, height: none, light: none, sheen: none, second: none };
  }
  function layer(parity, by, bx) {
    var L = by - ((by - parity) & 1), row = lattice[L];
    var none = { map: EMPTY_STAMP, at: 0, tying: inks[0], core: inks[0], hand: 1 };
    if (!row || L < 0) { return none; }
    var column = (bx - row.first) >> 1, cell = row.cells[column];
    if (!cell || bx < row.first) { return none; }
    var r = (L - parity) / 2, uneven = Math.floor((r * 7919 + column * 104729 + parity * 31) * 2654435761 / 256) % 256 / 255;
    return { map: stampOf(cell[0], p, lightX), at: (by - L) * p * size + (bx - row.first - 2 * column) * p,
      tying: inks[cell[1]], core: inks[cell[2]], hand: 0.96 + 0.08 * uneven };
  }
  for (var by = 1; by <= opt.rows + 1; by++) {
    for (var bx = 0; bx < S + 2; bx++) {
      var a = layer(0, by, bx), b = layer(1, by, bx), one = a.map, two = b.map;
      for (var y = 0; y < p; y++) {
        var Y = (by - 1) * p + y, ia = a.at + y * size, ib = b.at + y * size;
        for (var x = 0; x < p; x++, ia++, ib++) {
          var X = bx * p + x - p + pad;
          if (X < 0 || X >= wide) { continue; }
          var c1 = one.cover[ia], c2 = two.cover[ib];
          if (c1 === 0 && c2 === 0) { continue; }
          var over = 1 / (1 + Math.exp(-22 * ((c1 > 0 ? one.height[ia] : 0) - (c2 > 0 ? two.height[ib] : 0))));
          var cover = 1 - (1 - c1) * (1 - c2);
          var share = Math.min(1, (c2 > 0 ? c1 * (over + (1 - over) * (1 - c2)) : c1) / cover), rest = 1 - share;
          var lit = (one.light[ia] * a.hand * share + two.light[ib] * b.hand * rest) * (1 - 0.88 * over * (1 - over) * c1 * c2);
          var sheen = one.sheen[ia] * share + two.sheen[ib] * rest, s1 = one.second[ia], s2 = two.second[ib];
          var fx = bx * p + x;
          if (fx < rim || fx >= full - rim) {
            cover *= Math.min(1, Math.max(0, Math.max(one.height[ia] * c1, two.height[ib] * c2) * 6 - 0.6));
          }
          var to = 4 * (opt.lying ? (wide - 1 - X) * tall + Y : Y * wide + X), dark = Math.min(1, lit / 0.89), bright = Math.max(0, lit - 1.03), shine = Math.max(0, sheen - 0.06) * 2.5;
          for (var k = 0; k < 3; k++) {
            var ink = (a.tying[k] * (1 - s1) + a.core[k] * s1) * share + (b.tying[k] * (1 - s2) + b.core[k] * s2) * rest;
            out[to + k] = 255 * Math.min(1, ink * (dark + 0.22 * ink * dark * (1 - dark) + bright) + shine * (0.35 + 0.65 * ink) + (shine + bright) * 0.8 * Math.pow(1 - ink, 8)) + 0.5 | 0;
          }
          out[to + 3] = 255 * cover + 0.5 | 0;
        }
      }
    }
  }
  g.putImageData(picture, 0, 0);
}
