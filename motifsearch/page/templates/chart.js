/* The thread chart, as motifsearch.draw.thread_chart draws it: every strand one ribbon that runs down
   the page (a braid diagram), the tying strand passing over, each knot with its two slanted wraps. */

var SVG_NS = "http://www.w3.org/2000/svg";
var KNOT_WORDS = ["forward", "backward", "forward-backward", "backward-forward"];
var CHART = { step: 30, row: 38, ribbon: 8, top: 52, left: 48, paper: "#f7f3ea", ink: "#3b352c", faint: "#c9c0ae", board: "#d9cfba" };

function svg(name, attributes, parent) {
  var node = document.createElementNS(SVG_NS, name);
  Object.keys(attributes).forEach(function (k) { node.setAttribute(k, attributes[k]); });
  if (parent) { parent.appendChild(node); }
  return node;
}

/* The outline of a ribbon: darker than a light thread, lighter than a dark one. */
function edgeOf(hex) {
  var c = rgbOf(hex), luma = (0.2126 * c[0] + 0.7152 * c[1] + 0.0722 * c[2]) / 255;
  return hexOf(c.map(function (v) { return luma > 0.22 ? v * 0.52 : v + (255 - v) * 0.42; }));
}

function chartX(position) { return CHART.left + position * CHART.step; }

/* One strand through one row, continuing a path at the top of the row. */
function stepPath(knot, strand, position, y) {
  var x0 = chartX(position), low = y + CHART.row, half = CHART.row / 2;
  if (!knot) { return "V" + low; }
  if (!(knot[2] & 2)) {
    var x1 = chartX(position === knot[1] ? knot[1] + 1 : knot[1]);
    return "C" + [x0, y + half, x1, y + half, x1, low].join(" ");
  }
  var reach = CHART.step * (strand === knot[3] ? 0.6 : 0.34) * (position === knot[1] ? 1 : -1);
  return "C" + [x0, y + half * 0.6, x0 + reach, y + half * 0.45, x0 + reach, y + half].join(" ") +
    "S" + [x0, y + half * 1.4, x0, low].join(" ");
}

function threadChart(d, rows, hexes) {
  var S = d.order.length, w = walk(d, Math.max(rows, d.rows));
  var wide = chartX(S - 1) + 40, tall = CHART.top + rows * CHART.row + 44;
  var root = svg("svg", { viewBox: "0 0 " + wide + " " + tall, width: wide, height: tall, role: "img" });
  function text(x, y, words) { svg("text", { x: x, y: y, "font-size": 12, "text-anchor": "middle", fill: CHART.ink }, root).textContent = words; }
  function line(path, hex, wideness, cap) {
    svg("path", { d: path, fill: "none", stroke: hex, "stroke-width": wideness, "stroke-linecap": cap, "stroke-linejoin": "round" }, root);
  }
  svg("rect", { width: wide, height: tall, rx: 10, fill: CHART.paper }, root);
  for (var r = 0; r < rows; r++) {
    var y = CHART.top + (r + 0.5) * CHART.row;
    svg("path", { d: "M" + (CHART.left - 18) + " " + y + "H" + (chartX(S - 1) + 14), stroke: CHART.faint, "stroke-dasharray": "1 5" }, root);
    text(CHART.left - 30, y + 4, String(r + 1));
  }
  svg("rect", { x: CHART.left - 16, y: 8, width: (S - 1) * CHART.step + 32, height: 28, rx: 7, fill: CHART.board }, root);
  w.orders[0].forEach(function (s, j) { text(chartX(j), 27, String(s + 1)); });
  w.orders[rows].forEach(function (s, j) { text(chartX(j), tall - 12, String(s + 1)); });
  var paths = d.order.map(function (_, s) { return "M" + chartX(s) + " " + (CHART.top - 14) + "V" + CHART.top; });
  for (r = 0; r < rows; r++) {
    var at = {};
    w.knots.slice(w.starts[r], w.starts[r + 1]).forEach(function (k) { at[k[3]] = at[k[4]] = k; });
    w.orders[r].forEach(function (s, j) { paths[s] += stepPath(at[s], s, j, CHART.top + r * CHART.row); });
  }
  paths.forEach(function (path, s) {
    path += "V" + (CHART.top + rows * CHART.row + 14);
    line(path, edgeOf(hexes[d.order[s]]), CHART.ribbon + 1.6, "round");
    line(path, hexes[d.order[s]], CHART.ribbon, "round");
  });
  w.knots.slice(0, w.starts[rows]).forEach(function (k) {
    var hex = hexes[d.order[k[3]]], edge = edgeOf(hex), top = CHART.top + k[0] * CHART.row, from = k[1] + (k[2] & 1);
    var over = "M" + chartX(from) + " " + top + stepPath(k, k[3], from, top);
    var cx = chartX(k[1] + 0.5), cy = top + CHART.row / 2, way = k[2] & 1 ? -1 : 1;
    if (!(k[2] & 2)) { line(over, CHART.paper, CHART.ribbon + 5, "butt"); }
    line(over, edge, CHART.ribbon + 1.6, "butt");
    line(over, hex, CHART.ribbon, "butt");
    var wraps = k[2] & 2
      ? "M" + (cx - 7 * way) + " " + (cy - 8) + "L" + (cx + 7 * way) + " " + (cy - 3.6) + "M" + (cx + 7 * way) + " " + (cy + 3.6) + "L" + (cx - 7 * way) + " " + (cy + 8)
      : "M" + (cx - 3 * way) + " " + (cy - 9) + "L" + (cx + 8 * way) + " " + cy + "M" + (cx - 8 * way) + " " + cy + "L" + (cx + 3 * way) + " " + (cy + 9);
    line(wraps, edge, 9.2, "round");
    line(wraps, hex, 7, "round");
  });
  return root;
}

/* The rows in words, for those who do not see the chart. */
function rowWords(d, rows) {
  var grid = knotRows(d), out = [];
  for (var r = 0; r < rows; r++) { out.push(grid[r % grid.length].map(function (code) { return KNOT_WORDS[code]; }).join(", ")); }
  return out;
}
