/* The cloth: each knot as two wraps of the tying strand, slanted by the way they go, shaded as
   round yarn with its twist; below them the strands themselves, which show at the edges.
   Knots stand on a staggered lattice: knot (r, i) at ((i + 1) c, (r + 1/2) c), c = strand pitch. */

var sprites = new Map();

function spriteOf(hex, code, cell) {
  var key = hex + code + "/" + cell, found = sprites.get(key);
  if (found) { return found; }
  if (sprites.size > 3000) { sprites.clear(); }
  var size = 2 * cell + 4, canvas = document.createElement("canvas");
  canvas.width = canvas.height = size;
  var g = canvas.getContext("2d"), m = size / 2;
  g.translate(m, m);
  if (code & 1) { g.scale(-1, 1); }
  var half = cell * 0.7071;
  if (code & 2) {
    wrap(g, hex, cell, -0.07 * cell, 0.3 * cell, -0.46, 0.62 * cell, 0.62 * cell);
    wrap(g, hex, cell, -0.07 * cell, -0.3 * cell, 0.46, 0.62 * cell, 0.62 * cell);
  } else {
    wrap(g, hex, cell, -0.3 * cell, 0.3 * cell, 0.86, half * 1.02, half * 1.04);
    wrap(g, hex, cell, 0.3 * cell, -0.3 * cell, 0.86, half * 1.02, half * 1.04);
  }
  sprites.set(key, canvas);
  return canvas;
}

/* One wrap: a short round yarn at (x, y), turned by `angle`, half as long as `reach`. */
function wrap(g, hex, cell, x, y, angle, reach, thick) {
  g.save();
  g.translate(x, y);
  g.rotate(angle);
  var t = thick / 2, r = Math.min(t, reach) * 0.8;
  g.beginPath();
  g.roundRect(-reach, -t, 2 * reach, 2 * t, r);
  g.fillStyle = shade(hex, -0.5);
  g.fill();
  g.clip();
  var across = g.createLinearGradient(0, -t, 0, t);
  across.addColorStop(0, shade(hex, -0.34));
  across.addColorStop(0.2, shade(hex, -0.06));
  across.addColorStop(0.42, shade(hex, 0.16));
  across.addColorStop(0.7, shade(hex, -0.04));
  across.addColorStop(1, shade(hex, -0.46));
  g.fillStyle = across;
  g.fillRect(-reach, -t, 2 * reach, 2 * t);
  if (cell >= 9) {
    /* the plies of stranded cotton */
    g.lineWidth = Math.max(0.5, cell * 0.045);
    var step = thick * 0.36;
    for (var u = -reach - t; u < reach + t; u += step) {
      g.beginPath();
      g.moveTo(u - t * 0.7, t);
      g.quadraticCurveTo(u, 0.2 * t, u + t * 0.7, -t);
      g.strokeStyle = "rgba(0,0,0,0.13)";
      g.stroke();
      g.beginPath();
      g.moveTo(u - t * 0.7 + g.lineWidth, t);
      g.quadraticCurveTo(u + g.lineWidth, 0.2 * t, u + t * 0.7 + g.lineWidth, -t);
      g.strokeStyle = "rgba(255,255,255,0.13)";
      g.stroke();
    }
  }
  var along = g.createLinearGradient(-reach, 0, reach, 0);
  along.addColorStop(0, "rgba(0,0,0,0.42)");
  along.addColorStop(0.24, "rgba(0,0,0,0)");
  along.addColorStop(0.76, "rgba(0,0,0,0)");
  along.addColorStop(1, "rgba(0,0,0,0.42)");
  g.fillStyle = along;
  g.fillRect(-reach, -t, 2 * reach, 2 * t);
  g.restore();
}

/* Draws rows 0 .. rows-1 of design `d` on `canvas`, which it sizes.
   opt: rows, cell (device pixels), hexes (per palette colour), back, lying (the start at the left). */
function drawBand(canvas, d, opt) {
  var c = opt.cell, S = d.order.length, rows = opt.rows;
  var w = S * c, h = Math.round((rows + 0.6) * c);
  canvas.width = opt.lying ? h : w;
  canvas.height = opt.lying ? w : h;
  var g = canvas.getContext("2d");
  if (opt.lying) { g.transform(0, -1, 1, 0, 0, w); }
  var played = walk(d, Math.max(rows + 1, d.rows));
  if (opt.back) { g.transform(-1, 0, 0, 1, w, 0); }
  g.translate(0, 0.3 * c);
  if (c >= 4) { drawStrands(g, d, played, opt, c); }
  var end = played.starts[rows];
  for (var n = 0; n < end; n++) {
    var k = played.knots[n], code = k[2], strand = k[3];
    if (opt.back) { strand = k[4]; code = k[2] ^ 1; }
    var s = spriteOf(opt.hexes[d.order[strand]], code, c);
    g.drawImage(s, (k[1] + 1) * c - s.width / 2, (k[0] + 0.5) * c - s.height / 2);
  }
}

/* The strands on their way from node to node, in shade; at an edge they go straight down. */
function drawStrands(g, d, played, opt, c) {
  var S = d.order.length, rows = opt.rows;
  g.lineCap = g.lineJoin = "round";
  var lines = d.order.map(function () { return []; });
  for (var r = 0; r < rows; r++) {
    var order = played.orders[r], last = S - 1, from = r % 2;
    for (var j = 0; j < S; j++) {
      var i = from + 2 * Math.floor((j - from) / 2), waits = i < 0 || i + 1 > last;
      lines[order[j]].push(waits ? (j === 0 ? 0.42 : S - 0.42) : i + 1);
    }
  }
  lines.forEach(function (xs, s) {
    var hex = opt.hexes[d.order[s]];
    [[0.62, shade(hex, -0.6)], [0.4, shade(hex, -0.3)], [0.14, shade(hex, -0.1)]].forEach(function (pen) {
      g.beginPath();
      xs.forEach(function (x, r) { g.lineTo(x * c, (r + 0.5) * c); });
      g.lineWidth = pen[0] * c;
      g.strokeStyle = pen[1];
      g.stroke();
    });
  });
}
