/* The board as it lies before her: the cloth, and every strand from its last knot to its notch. */

var SVG = "http://www.w3.org/2000/svg", stage = document.getElementById("stage"), view = document.getElementById("view");
var CLOTH_HIGH = 118, FAN_HIGH = 92, FOOT_HIGH = 62;
/* Dashes that tell the colours apart where hues do not. */
var DASHES = ["", "1 5", "7 4", "2 2", "10 3 2 3", "4 8", "1 2.5", "12 6", "5 2 1 2 1 2", "3 6 1 6"];

function svg(name, attributes, into, text) {
  var node = document.createElementNS(SVG, name);
  Object.keys(attributes).forEach(function (key) { node.setAttribute(key, attributes[key]); });
  if (text !== undefined) { node.textContent = text; }
  if (into) { into.appendChild(node); }
  return node;
}
function shade(hex, by) { return "#" + rgbOf(hex).map(function (v) { return (256 + Math.round(v * by)).toString(16).slice(1); }).join(""); }

var board = {};
function layOut() {
  var wide = Math.max(300, Math.min(stage.clientWidth, 720)), step = Math.min(34, (wide - 20) / S);
  board = { wide: wide, step: step, left: (wide - step * S) / 2, css: Math.max(5, Math.min(15, Math.floor(2 * (wide - 40) / S) / 2)), lines: [] };
  board.high = CLOTH_HIGH + FAN_HIGH + FOOT_HIGH;
  board.clothLeft = wide / 2 - S * board.css / 2;
  view.setAttribute("viewBox", "0 0 " + wide + " " + board.high);
  view.setAttribute("width", wide);
  view.setAttribute("height", board.high);
  view.textContent = "";
  svg("rect", { x: 1, y: 1, width: wide - 2, height: CLOTH_HIGH + FAN_HIGH, rx: 12, "class": "wood" }, view);
  for (var k = 0; k < 5; k++) {
    var y = 22 + k * 42;
    svg("path", { d: "M8 " + y + "C" + wide * 0.3 + " " + (y - 9 + 4 * k) + " " + wide * 0.6 + " " + (y + 10 - 3 * k) + " " + (wide - 8) + " " + y, "class": "grain" }, view);
  }
  board.under = svg("g", {}, view);
  board.threads = svg("g", {}, view);
  board.foot = svg("g", {}, view);
  board.way = svg("g", {}, view);
  makeLines();
  setUpCloth(board.css);
  stage.style.setProperty("--cloth-left", board.clothLeft - Math.max(1, cloth.pitch >> 2) / cloth.pitch * board.css + (stage.clientWidth - wide) / 2 + "px");
}

function notchX(seen) { return board.left + (seen + 0.5) * board.step; }

/* Draws the strands, the lit one last, and the way of the step along the notches. */
function showBoard(st, pass, from) {
  var lowest = new Array(S).fill(-1), deep = 0, css = board.css, low = CLOTH_HIGH + FAN_HIGH;
  for (var id = R * S - 1; id >= 0; id--) {
    if (st.tying[id] < 0) { continue; }
    var i = id % S, r = rowOf(id);
    if (lowest[i] < 0) { lowest[i] = id; }
    if (lowest[i + 1] < 0) { lowest[i + 1] = id; }
    deep = Math.max(deep, r + 1);
  }
  board.offset = Math.min(8, CLOTH_HIGH - (deep + 1) * css);
  document.getElementById("window").style.setProperty("--cloth-top", board.offset + "px");
  board.way.textContent = "";
  var lit = pass ? seenAt(pass.places[from]) : -1, thick = Math.max(3, Math.min(7, board.step * 0.34)), order = [];
  for (var p = 0; p < S; p++) { order.push(p); }
  order.sort(function (a, b) { return (seenAt(a) === lit) - (seenAt(b) === lit); });
  order.forEach(function (p) {
    var s = seenAt(p), id = lowest[p], colour = DATA.order[st.order[p]], hex = DATA.hexes[colour], x = board.clothLeft + (s + 0.5) * css, y = board.offset, d;
    if (id >= 0) {
      var i = leftOf(id), cx = board.clothLeft + (seenAt(i) + seenAt(i + 1) + 1) / 2 * css;
      y = board.offset + (rowOf(id) + 1) * css;
      d = "M" + cx + " " + y + "L" + x + " " + (y + css);
    } else { d = "M" + x + " " + (y + css * 0.6) + "L" + x + " " + (y + css); }
    var n = notchX(s), top = Math.max(y + css, CLOTH_HIGH - 6);
    d += "L" + x + " " + top + "C" + x + " " + (top + 34) + " " + n + " " + (low - 52) + " " + n + " " + (low - 12) + "L" + n + " " + (low + 9);
    var own = board.lines[s], wide = s === lit ? thick * 1.5 : thick, dash = DASHES[colour % DASHES.length];
    set(own.glow, { d: s === lit ? d : "M0 0", "stroke-width": s === lit ? wide + 9 : 0 });
    set(own.edge, { d: d, stroke: shade(hex, 0.5), "stroke-width": wide + 1.8 });
    set(own.line, { d: d, stroke: hex, "stroke-width": wide });
    set(own.dash, { d: dash ? d : "M0 0", stroke: inkOn(hex), "stroke-width": dash ? Math.max(1.1, wide * 0.28) : 0, "stroke-dasharray": dash });
    if (s === lit) { board.threads.appendChild(own.all); }
  });
  var worked = new Set(pass ? pass.cores.slice(from).map(seenAt) : []);
  for (var s = 0; s < S; s++) {
    var at = hand.mirrored ? S - 1 - s : s, c = DATA.order[st.order[at]], own = board.lines[s];
    set(own.box, { fill: DATA.hexes[c], stroke: shade(DATA.hexes[c], 0.5) });
    set(own.letter, { fill: inkOn(DATA.hexes[c]) });
    if (own.letter.textContent !== DATA.letters[c]) { own.letter.textContent = DATA.letters[c]; }
    set(own.number, { "class": "number" + (s === lit ? " lit" : worked.has(s) ? " worked" : "") });
  }
  if (pass) { showWay(pass, from, low + 51); }
}

/* Only what changes is written, so that a tap is answered at once. */
function set(node, attributes) {
  Object.keys(attributes).forEach(function (key) {
    var value = String(attributes[key]);
    if (node.getAttribute(key) !== value) { node.setAttribute(key, value); }
  });
}

function makeLines() {
  var low = CLOTH_HIGH + FAN_HIGH, small = Math.min(15, board.step * 0.66), box = Math.min(20, board.step - 2);
  for (var s = 0; s < S; s++) {
    var x = notchX(s), all = svg("g", {}, board.threads), own = { all: all };
    svg("path", { d: "M" + (x - board.step * 0.24) + " " + (low + 1) + "L" + x + " " + (low - 11) + "L" + (x + board.step * 0.24) + " " + (low + 1), "class": "slot" }, board.under);
    own.glow = svg("path", { "class": "glow" }, all);
    own.edge = svg("path", { "class": "thread" }, all);
    own.line = svg("path", { "class": "thread" }, all);
    own.dash = svg("path", { "class": "thread", "stroke-opacity": 0.62 }, all);
    own.box = svg("rect", { x: x - box / 2, y: low + 12, width: box, height: 18, rx: 3, "class": "box" }, board.foot);
    own.letter = svg("text", { x: x, y: low + 25.5, "font-size": Math.min(13, box * 0.85), "class": "letter" }, board.foot);
    own.number = svg("text", { x: x, y: low + 44, "font-size": small, "class": "number" }, board.foot, DATA.firstNotch + s);
    board.lines.push(own);
  }
}

/* From the notch where the strand is picked up to the one where it rests, a foot on every knot. */
function showWay(pass, from, y) {
  var start = notchX(seenAt(pass.places[from])), end = notchX(seenAt(pass.end)), far = pass.cores.slice(from).map(function (p) { return notchX(seenAt(p)); });
  var out = far.reduce(function (best, x) { return Math.abs(x - start) > Math.abs(best - start) ? x : best; }, start), way = Math.sign(out - start) || 1;
  if (out === end) {
    svg("path", { d: "M" + start + " " + y + "L" + (end - 5 * way) + " " + y, "class": "way" }, board.way);
    svg("path", { d: "M" + end + " " + y + "l" + -8 * way + " -4.5v9z", "class": "way-tip" }, board.way);
  } else {
    var back = Math.sign(end - out) || -way;
    svg("path", { d: "M" + start + " " + (y - 2) + "L" + (out - 3 * way) + " " + (y - 2) + "q" + 5 * way + " 3.5 0 7L" + (end - 5 * back) + " " + (y + 5), "class": "way" }, board.way);
    svg("path", { d: "M" + end + " " + (y + 5) + "l" + -8 * back + " -4.5v9z", "class": "way-tip" }, board.way);
  }
}
