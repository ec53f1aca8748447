var DATA = JSON.parse((document.getElementById("data") || document.body).textContent || "{}");

/* The strands' walk, played from the knots, as motifsearch.pattern.walk defines it.
   A knot is 0 rr, 1 ll, 2 rl, 3 lr: bit 0 = the right strand ties, bit 1 = returning. */

function knotRows(d) {
  if (!d.grid) { d.grid = d.knots.split(" ").map(function (row) { return Array.from(row, Number); }); }
  return d.grid;
}

/* Every knot of the first `rows` rows as [row, position, code, tying, core], and the order of the
   strands before every row (one more at the end). Strands are named by their place at the start. */
function walk(d, rows) {
  if (d.walked && d.walked.rows >= rows) { return d.walked; }
  var grid = knotRows(d), order = d.order.map(function (_, s) { return s; });
  var knots = [], orders = [order.slice()], starts = [0];
  for (var r = 0; r < rows; r++) {
    var codes = grid[r % grid.length];
    for (var k = 0; k < codes.length; k++) {
      var i = r % 2 + 2 * k, code = codes[k], left = order[i], right = order[i + 1];
      knots.push([r, i, code, code & 1 ? right : left, code & 1 ? left : right]);
      if (!(code & 2)) { order[i] = right; order[i + 1] = left; }
    }
    orders.push(order.slice());
    starts.push(knots.length);
  }
  d.walked = { rows: rows, knots: knots, orders: orders, starts: starts };
  return d.walked;
}

/* The pairs of palette colours that touch anywhere on the face of one repeat. */
function touchingPairs(d) {
  if (d.touching) { return d.touching; }
  var rows = Math.min(d.repeatRows || knotRows(d).length, 1200) + 1, w = walk(d, Math.max(rows, d.rows));
  var above = {}, seen = {}, now, r = 0;
  for (r = 0; r < rows; r++) {
    now = {};
    for (var n = w.starts[r]; n < w.starts[r + 1]; n++) {
      var i = w.knots[n][1], c = d.order[w.knots[n][3]];
      now[i] = c;
      [i - 1, i + 1].forEach(function (j) {
        var other = above[j];
        if (other !== undefined && other !== c) { seen[Math.min(c, other) + " " + Math.max(c, other)] = 1; }
      });
    }
    above = now;
  }
  d.touching = Object.keys(seen).map(function (pair) { return pair.split(" ").map(Number); });
  return d.touching;
}
