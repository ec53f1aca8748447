/* Find my place: every step at which the colours lie so, nearest first, and the one look that tells
   these steps apart. */

/* Goes through the band once: per step the colours in the notches from the left, how many knots lie
   in every gap between two positions, and the colour of the lowest one there. */
function eachStep(visit) {
  var order = DATA.order.slice(), heights = new Array(S - 1).fill(0), lowest = new Array(S - 1).fill(-1), done = 0;
  var other = new Map(), swaps = [];
  place.changes.forEach(function (c) { if (c.kind === "knot") { other.set(c.id, c.code); } else { swaps.push(c); } });
  for (var n = 0; n <= PASSES.length; n++) {
    swaps.forEach(function (c) {
      if (c.at === n) { var o = order[c.a]; order[c.a] = order[c.b]; order[c.b] = o; }
    });
    visit(n, order, heights, lowest, done);
    if (n === PASSES.length) { break; }
    PASSES[n].ids.forEach(function (id, k) {
      var i = id % S, c = other.has(id) ? other.get(id) : PASSES[n].codes[k], left = order[i], right = order[i + 1];
      heights[i]++;
      done++;
      lowest[i] = c & 1 ? right : left;
      if (!(c & 2)) { order[i] = right; order[i + 1] = left; }
    });
  }
}

/* `seen`: colours in the notches from the left; `rows`: about how many rows. */
function stepsThatLookSo(seen, rows) {
  var want = hand.mirrored ? seen.slice().reverse() : seen, out = [];
  eachStep(function (n, order, heights, lowest, done) {
    for (var p = 0; p < S; p++) { if (order[p] !== want[p]) { return; } }
    out.push({ at: n, rows: 2 * done / (S - 1), heights: heights.slice(), lowest: lowest.slice() });
  });
  return out.sort(function (a, b) { return Math.abs(a.rows - rows) - Math.abs(b.rows - rows) || a.at - b.at; });
}

/* Where no step fits: the step nearest by rows that fits after a change of two notches. */
function swappedStep(seen, rows) {
  var want = hand.mirrored ? seen.slice().reverse() : seen, best = null;
  eachStep(function (n, order, heights, lowest, done) {
    var off = [];
    for (var p = 0; p < S && off.length < 3; p++) { if (order[p] !== want[p]) { off.push(p); } }
    if (off.length !== 2 || order[off[0]] !== want[off[1]] || order[off[1]] !== want[off[0]]) { return; }
    var far = Math.abs(2 * done / (S - 1) - rows);
    if (!best || far < best.far) { best = { far: far, at: n, a: off[0], b: off[1] }; }
  });
  return best;
}

/* The easiest single look at which all of some steps differ: a colour, a count, or the whole edge. */
function lookFor(steps) {
  function apart(value) { return new Set(steps.map(value)).size === steps.length; }
  var i, colours = steps.length <= DATA.names.length;
  for (i = 0; colours && i < S - 1; i++) {
    var colour = i;
    if (steps.every(function (s) { return s.lowest[colour] >= 0; }) && apart(function (s) { return s.lowest[colour]; })) {
      return { kind: "last", gap: i, value: function (s) { return s.lowest[this.gap]; } };
    }
  }
  for (i = 0; i < S - 1; i++) {
    var gap = i % 2 ? S - 2 - (i >> 1) : i >> 1;
    if (apart(function (s) { return s.heights[gap]; })) {
      return { kind: "count", gap: gap, value: function (s) { return s.heights[this.gap]; } };
    }
  }
  return { kind: "edge", gap: -1, value: function (s) { return seenFromLeft(s.heights).join(" "); } };
}

function seenFromLeft(heights) { return hand.mirrored ? heights.slice().reverse() : heights; }
