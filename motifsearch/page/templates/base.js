/* What every part uses: the designs, elements whose text is never markup, units. */

var DESIGNS = DATA.designs, byId = new Map(DESIGNS.map(function (d) { return [d.id, d]; }));
var $ = function (id) { return document.getElementById(id); };
var S, cards = new Map(), shown = [], detail = null;

/* Makes an element; children are texts, nodes, or lists of them. Text never becomes markup. */
function el(name, attributes) {
  var node = document.createElement(name);
  Object.keys(attributes || {}).forEach(function (k) { node.setAttribute(k, attributes[k]); });
  (function add(children) {
    children.forEach(function (c) {
      if (Array.isArray(c)) { add(c); }
      else if (c !== null && c !== undefined) { node.append(c); }
    });
  })(Array.prototype.slice.call(arguments, 2));
  return node;
}
function bdi(text) { return el("bdi", {}, text); }
function isolated(text) { return "\u2068" + text + "\u2069"; }
function dot(hex) {
  var s = el("span", { "class": "dot", "aria-hidden": "true" });
  s.style.backgroundColor = hex;
  return s;
}
function percent(v) { return Math.floor(v * 100 + 0.5) + "%"; }

/* Lengths in the unit that is chosen. */
function imperial() { return (S.units || DATA.units) === "imperial"; }
function quarters(mm, round) {
  var q = round(mm / 25.4 * 4 - 1e-9), whole = Math.floor(q / 4), part = ["", "\u00bc", "\u00bd", "\u00be"][q % 4];
  return (whole || !part ? whole : "") + (part && whole ? "\u2009" : "") + part + " in";
}
/* Half centimetres or quarter inches, as on the worksheet; below 2 cm whole millimetres. */
function lengthText(mm) {
  if (mm === null) { return "none"; }
  if (imperial()) { return quarters(mm, Math.round); }
  return mm < 20 ? Math.round(mm) + " mm" : Math.floor(mm / 5 + 0.5) / 2 + " cm";
}
/* What is cut is rounded up, so that it is never too short. */
function cutText(mm, nearest) {
  if (mm === null) { return "none"; }
  if (imperial()) { return quarters(mm, nearest ? Math.round : Math.ceil); }
  return (nearest ? Math.floor(mm / 5 + 0.5) : Math.ceil(mm / 5 - 1e-6)) / 2 + " cm";
}
/* Two parts of a length in one unit, each said by `text`. */
function bothText(one, two, text) { return (imperial() ? text(one, true) : parseFloat(text(one, true))) + " + " + text(two, true); }
/* To the millimetre, in centimetres: the length of the band, and the parts of a sum. */
function fineText(mm) { return imperial() ? quarters(mm, Math.round) : Math.floor(mm + 0.5) / 10 + " cm"; }
/* The lengths of the bands: one, or from the shortest to the longest. */
function lengthsText() {
  var all = DESIGNS.map(function (d) { return d.lengthMm; }), low = Math.min.apply(null, all), high = Math.max.apply(null, all);
  return low === high ? fineText(low) : fineText(low) + " to " + fineText(high);
}
function longText(mm) { return imperial() ? (mm / 914.4).toFixed(1) + " yd" : (mm / 1000).toFixed(1).replace(/\.0$/, "") + " m"; }
function timeText(minutes) {
  var m = Math.round(minutes), h = Math.floor(m / 60);
  return h ? h + " h" + (m % 60 ? " " + m % 60 + " min" : "") : m + " min";
}
function showScore(d, o) {
  var v = scoreOf(d, o.key);
  if (v === null) { return "none"; }
  return { percent: percent, length: lengthText, "long": longText, time: timeText,
    number: function (x) { return String(Math.round(x)); }, decimal: function (x) { return x.toFixed(1); } }[o.as](v);
}
