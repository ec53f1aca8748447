/* The band so far, as cloth: the same stamps as every preview, drawn knot by knot as they are tied.
   Block (by, bx) of the lattice is one pitch wide and high; the knot at row r, position i lies on the
   blocks by = r + 1, r + 2 and bx = i + 1, i + 2 (see cloth.js). */

function rgbOf(hex) { return [1, 3, 5].map(function (k) { return parseInt(hex.slice(k, k + 2), 16); }); }

var BASE = DATA.hexes.map(function (h) { return rgbOf(h).map(function (v) { return v / 255; }); });
var INKS = DATA.order.map(function (c) { return BASE[c]; });

function edgeStrand(st, r, left) {
  var id = idOf(r, left ? 0 : S - 2);
  if (r < 0) { return left ? 0 : S - 1; }
  if (st.tying[id] < 0) { return -1; }
  var tyingIsLeft = st.code[id] === 1 || st.code[id] === 2;
  return tyingIsLeft === left ? st.tying[id] : st.core[id];
}

/* What lies on node `c` (as seen, from the left) of lattice row L: [stamp, tying, core] or nothing. */
function cellOf(st, L, c) {
  var m = hand.mirrored, node = m ? S - c : c, r = L - 1;
  if (r >= R || node < 0 || node > S) { return null; }
  if (node === 0 || node === S) {
    var left = node === 0, below = r + 1 < R ? idOf(r + 1, left ? 0 : S - 2) : -1;
    if (below >= 0 && st.tying[below] < 0) { return null; }
    var strand = edgeStrand(st, r - 1, left);
    return strand < 0 ? null : [left !== m ? WAIT_LEFT : WAIT_RIGHT, strand, strand];
  }
  if (r < 0) { return m ? [THROUGH, node, node - 1] : [THROUGH, node - 1, node]; }
  var id = idOf(r, node - 1);
  return st.tying[id] < 0 ? null : [codeSeen(st.code[id]), st.tying[id], st.core[id]];
}

function weaveBlock(g, st, p, by, bx, top) {
  var pad = Math.max(1, p >> 2), size = 2 * p, rim = p + Math.max(1, p >> 1), full = (S + 2) * p;
  var picture = g.createImageData(p, p), out = picture.data, some = false;
  function layer(parity) {
    var L = by - ((by - parity) & 1), c = bx - ((bx - L) & 1), cell = L < 0 ? null : cellOf(st, L, c);
    if (!cell) { return null; }
    var column = c >> 1, r = (L - parity) / 2;
    var uneven = Math.floor((r * 7919 + column * 104729 + parity * 31) * 2654435761 / 256) % 256 / 255;
    return { map: stampOf(cell[0], p, -1), at: (by - L) * p * size + (bx - c) * p, tying: INKS[cell[1]], core: INKS[cell[2]], hand: 0.96 + 0.08 * uneven };
  }
  var a = layer(0), b = layer(1);
  if (a || b) {
    some = true;
    var one = a || b, two = b || a, second = b ? 1 : 0, first = a ? 1 : 0;
    for (var y = 0; y < p; y++) {
      var ia = one.at + y * size, ib = two.at + y * size;
      for (var x = 0; x < p; x++, ia++, ib++) {
        var c1 = first * one.map.cover[ia], c2 = second * two.map.cover[ib];
        if (c1 === 0 && c2 === 0) { continue; }
        var over = 1 / (1 + Math.exp(-22 * (one.map.height[ia] * (c1 > 0) - two.map.height[ib] * (c2 > 0))));
        var cover = 1 - (1 - c1) * (1 - c2);
        var share = Math.min(1, (c2 > 0 ? c1 * (over + (1 - over) * (1 - c2)) : c1) / cover), rest = 1 - share;
        var lit = (one.map.light[ia] * one.hand * share + two.map.light[ib] * two.hand * rest) * (1 - 0.88 * over * (1 - over) * c1 * c2);
        var sheen = one.map.sheen[ia] * share + two.map.sheen[ib] * rest, s1 = one.map.second[ia], s2 = two.map.second[ib], fx = bx * p + x;
        if (fx < rim || fx >= full - rim) {
          cover *= Math.min(1, Math.max(0, Math.max(one.map.height[ia] * c1, two.map.height[ib] * c2) * 6 - 0.6));
        }
        var to = 4 * (y * p + x), dark = Math.min(1, lit / 0.89), bright = Math.max(0, lit - 1.03), shine = Math.max(0, sheen - 0.06) * 2.5;
        for (var k = 0; k < 3; k++) {
          var ink = (one.tying[k] * (1 - s1) + one.core[k] * s1) * share + (two.tying[k] * (1 - s2) + two.core[k] * s2) * rest;
          out[to + k] = 255 * Math.min(1, ink * (dark + 0.22 * ink * dark * (1 - dark) + bright) + shine * (0.35 + 0.65 * ink) + (shine + bright) * 0.8 * Math.pow(1 - ink, 8)) + 0.5 | 0;
        }
        out[to + 3] = 255 * cover + 0.5 | 0;
      }
    }
  }
  g.putImageData(picture, (bx - 1) * p + pad, (by - 1 - top) * p);
  return some;
}

function inkOn(hex) {
  var c = rgbOf(hex).map(function (v) { v /= 255; return v <= 0.04045 ? v / 12.92 : Math.pow((v + 0.055) / 1.055, 2.4); });
  return 0.2126 * c[0] + 0.7152 * c[1] + 0.0722 * c[2] > 0.179 ? "#000000" : "#ffffff";
}

/* The letter of its colour on a knot, for eyes that do not tell the colours apart. */
function letterOn(g, st, p, id, top) {
  var colour = DATA.order[st.tying[id]], pad = Math.max(1, p >> 2), x = (seenAt(leftOf(id)) + seenAt(leftOf(id) + 1) + 1) / 2;
  g.font = "700 " + Math.max(8, Math.round(p * 0.8)) + "px sans-serif";
  g.textAlign = "center";
  g.textBaseline = "middle";
  g.lineWidth = Math.max(2, p * 0.16);
  g.strokeStyle = DATA.hexes[colour];
  g.fillStyle = inkOn(DATA.hexes[colour]);
  g.strokeText(DATA.letters[colour], x * p + pad, (rowOf(id) + 1 - top) * p);
  g.fillText(DATA.letters[colour], x * p + pad, (rowOf(id) + 1 - top) * p);
}

/* Rows of a band on a canvas of its own, as small pictures. */
function weavePart(canvas, st, p, from, to) {
  var pad = Math.max(1, p >> 2);
  canvas.width = S * p + 2 * pad;
  canvas.height = (to - from + 2) * p;
  var g = canvas.getContext("2d");
  for (var by = from + 1; by <= to + 2; by++) {
    for (var bx = 0; bx < S + 2; bx++) { weaveBlock(g, st, p, by, bx, from); }
  }
}

/* The one large cloth: it is changed only where knots were tied or undone. */
var cloth = { canvas: document.getElementById("cloth"), css: 0, pitch: 0, state: null, todo: [], waiting: false };

function setUpCloth(cssPitch) {
  var most = Math.floor(Math.sqrt(6e6 / (S * (R + 1))));
  cloth.css = cssPitch;
  cloth.pitch = Math.max(6, Math.min(Math.round(cssPitch * (window.devicePixelRatio || 1)), Math.max(most, 8)));
  var p = cloth.pitch, pad = Math.max(1, p >> 2);
  cloth.canvas.width = S * p + 2 * pad;
  cloth.canvas.height = (R + 1) * p;
  cloth.canvas.style.width = (S + 2 * pad / p) * cssPitch + "px";
  cloth.canvas.style.height = (R + 1) * cssPitch + "px";
  cloth.state = null;
}

/* The stamps of all kinds of knots, made before the first tap that needs one. */
function warmUp() {
  var kinds = [0, 1, 2, 3, WAIT_LEFT, WAIT_RIGHT];
  (function one() { if (kinds.length) { stampOf(kinds.pop(), cloth.pitch, -1); setTimeout(one, 0); } })();
}

function blocksOf(id, into) {
  var r = rowOf(id), i = leftOf(id), a = seenAt(i), b = seenAt(i + 1), c = Math.max(a, b), edge = i === 0 || i === S - 2;
  for (var by = r + 1 - 2 * edge; by <= r + 2 + 2 * edge; by++) {
    for (var bx = c - edge; bx <= c + 1 + edge; bx++) {
      if (by >= 1 && by <= R + 1 && bx >= 0 && bx < S + 2) { into.add(by * 32 + bx); }
    }
  }
}

function showCloth(st, edgeRow) {
  var before = cloth.state, changed = new Set(), ids = [];
  for (var id = 0; id < R * S; id++) {
    if (!before ? st.tying[id] >= 0 : st.tying[id] !== before.tying[id] || st.code[id] !== before.code[id] || st.core[id] !== before.core[id]) { ids.push(id); }
  }
  ids.forEach(function (id) { blocksOf(id, changed); });
  if (!before) { for (var bx = 0; bx < S + 2; bx++) { changed.add(32 + bx); } }
  cloth.todo.forEach(function (key) { changed.add(key); });
  cloth.state = st;
  var near = edgeRow + 1;
  cloth.todo = Array.from(changed).sort(function (a, b) { return Math.abs((b >> 5) - near) - Math.abs((a >> 5) - near); });
  drawSome(6);
}

/* The nearest first, as long as a tap may take; the rest between the frames. */
function drawSome(ms) {
  var g = cloth.canvas.getContext("2d"), end = performance.now() + ms, drawn = 0, letters = new Set();
  while (cloth.todo.length && (drawn % 16 || performance.now() < end)) {
    var key = cloth.todo.pop(), by = key >> 5, bx = key & 31;
    weaveBlock(g, cloth.state, cloth.pitch, by, bx, 0);
    drawn++;
    if (ways.letters) {
      [by - 2, by - 1].forEach(function (r) {
        [bx - 2, bx - 1, bx].forEach(function (s) {
          var i = hand.mirrored ? S - 2 - s : s;
          if (r >= 0 && r < R && i >= 0 && i <= S - 2 && (i - r) % 2 === 0 && cloth.state.tying[idOf(r, i)] >= 0) { letters.add(idOf(r, i)); }
        });
      });
    }
  }
  letters.forEach(function (id) { letterOn(g, cloth.state, cloth.pitch, id, 0); });
  if (cloth.todo.length && !cloth.waiting) {
    cloth.waiting = true;
    requestAnimationFrame(function () { cloth.waiting = false; drawSome(10); });
  }
}
