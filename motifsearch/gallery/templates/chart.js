/* The thread chart: every strand a continuous ribbon that runs down the page and passes over or
   under its neighbour, each knot marked by its two slanted wraps (a braid diagram). */

var SVG_NS = "http://www.w3.org/2000/svg";

function svg(name, attributes, parent) {
  var node = document.createElementNS(SVG_NS, name);
  Object.keys(attributes).forEach(function (k) { node.setAttribute(k, attributes[k]); });
  if (parent) { parent.appendChild(node); }
  return node;
}

function threadChart(d, rows, hexes, paper, ink) {
  var S = d.order.length, dx = 30, dy = 30, left = 34, top = 30;
  var width = left + S * dx + 10, height = top + rows * dy + 30;
  var root = svg("svg", { viewBox: "0 0 " + width + " " + height, width: width, height: height, role: "img" });
  var w = walk(d, Math.max(rows + 1, d.rows));
  function x(j) { return left + (j + 0.5) * dx; }
  function label(text, px, py, size) {
    svg("text", { x: px, y: py, "font-size": size, "text-anchor": "middle", fill: ink }, root).textContent = text;
  }
  function ribbon(path, hex) {
    svg("path", { d: path, fill: "none", stroke: paper, "stroke-width": 13 }, root);
    svg("path", { d: path, fill: "none", stroke: shade(hex, -0.45), "stroke-width": 10, "stroke-linecap": "round" }, root);
    svg("path", { d: path, fill: "none", stroke: hex, "stroke-width": 7.5, "stroke-linecap": "round" }, root);
  }
  function way(j, to, r) {
    var y = top + r * dy;
    return "M" + x(j) + " " + y + "C" + x(j) + " " + (y + dy * 0.5) + " " + x(to) + " " + (y + dy * 0.5) + " " + x(to) + " " + (y + dy);
  }
  /* A strand that returns: over to its neighbour and back. */
  function bend(j, towards, r) {
    var y = top + r * dy, reach = x(j) + towards * dx * 0.85;
    return "M" + x(j) + " " + y + "C" + x(j) + " " + (y + 9) + " " + reach + " " + (y + 6) + " " + (x(j) + towards * dx * 0.62) + " " + (y + dy / 2) +
      "S" + x(j) + " " + (y + dy - 9) + " " + x(j) + " " + (y + dy);
  }
  w.orders[0].forEach(function (s, j) { label(String(j + 1), x(j), top - 10, 13); });
  for (var r = 0; r < rows; r++) {
    var order = w.orders[r], busy = {}, knots = w.knots.slice(w.starts[r], w.starts[r + 1]);
    knots.forEach(function (k) { busy[k[1]] = busy[k[1] + 1] = true; });
    if (r % 2 === 0) { label(String(r + 1), 14, top + r * dy + dy / 2 + 4, 11); }
    order.forEach(function (s, j) {
      if (!busy[j]) { ribbon(way(j, j, r), hexes[d.order[s]]); }
    });
    knots.forEach(function (k) {
      var i = k[1], code = k[2], fromRight = code & 1, tyingAt = fromRight ? i + 1 : i, coreAt = fromRight ? i : i + 1;
      var tying = hexes[d.order[k[3]]], core = hexes[d.order[k[4]]];
      if (code & 2) {
        ribbon(way(coreAt, coreAt, r), core);
        ribbon(bend(tyingAt, fromRight ? -1 : 1, r), tying);
      } else {
        ribbon(way(coreAt, tyingAt, r), core);
        ribbon(way(tyingAt, coreAt, r), tying);
      }
      var mx = (x(i) + x(i + 1)) / 2, my = top + r * dy + dy / 2, way1 = fromRight ? -1 : 1;
      var shift = code & 2 ? (fromRight ? -3 : 3) : 0;
      [-1, 1].forEach(function (n) {
        var slant = code & 2 && n > 0 ? -way1 : way1;
        svg("line", {
          x1: mx + shift - 6 * slant, y1: my + n * 4 - 3, x2: mx + shift + 6 * slant, y2: my + n * 4 + 3,
          stroke: shade(tying, -0.55), "stroke-width": 7, "stroke-linecap": "round"
        }, root);
        svg("line", {
          x1: mx + shift - 6 * slant, y1: my + n * 4 - 3, x2: mx + shift + 6 * slant, y2: my + n * 4 + 3,
          stroke: shade(tying, 0.12), "stroke-width": 4.5, "stroke-linecap": "round"
        }, root);
      });
    });
  }
  w.orders[rows].forEach(function (s, j) { label(String(s + 1), x(j), top + rows * dy + 20, 13); });
  return root;
}
