/* What is shown lives in the fragment of the address, so that a view can be kept and sent. */

var NOTHING = {
  name: "", colours: [], match: "all", strands: [], frieze: [], repeat: null, minutes: null, even: 0,
  stash: false, sort: "rank", turn: false, view: "close", sight: "usual", units: null, pins: [], open: null,
  compare: false, paint: {}, zoom: "auto", side: "front"
};

function freshState() { return JSON.parse(JSON.stringify(NOTHING)); }

function writeFragment(s) {
  var p = new URLSearchParams();
  function put(key, value) { p.append(key, value); }
  if (s.name) { put("name", s.name); }
  s.colours.forEach(function (c) { put("colour", c); });
  s.strands.forEach(function (n) { put("strands", n); });
  s.frieze.forEach(function (f) { put("symmetry", f); });
  ["repeat", "minutes"].forEach(function (k) { if (s[k] !== null) { put(k, s[k]); } });
  if (s.even) { put("even", s.even); }
  if (s.stash) { put("stash", 1); }
  if (s.turn) { put("turn", 1); }
  if (s.units) { put("units", s.units); }
  ["match", "sort", "view", "sight", "zoom", "side"].forEach(function (k) { if (s[k] !== NOTHING[k]) { put(k, s[k]); } });
  s.pins.forEach(function (id) { put("pin", id); });
  Object.keys(s.paint).forEach(function (id) {
    var pairs = Object.keys(s.paint[id]).map(function (k) { return k + "." + s.paint[id][k]; });
    if (pairs.length) { put("paint", id + "~" + pairs.join("~")); }
  });
  if (s.compare) { put("compare", 1); }
  if (s.open) { put("open", s.open); }
  return p.toString();
}

/* Reads any fragment; what is not known is left out. `has`: what this gallery holds. */
function readFragment(text, has) {
  var s = freshState(), p;
  try { p = new URLSearchParams(text.replace(/^#/, "")); } catch (e) { return s; }
  function among(key, list, fallback) { var v = p.get(key); return list.indexOf(v) >= 0 ? v : fallback; }
  function number(key) {
    var v = parseFloat(p.get(key));
    return p.get(key) !== null && isFinite(v) && v >= 0 ? v : null;
  }
  s.name = (p.get("name") || "").slice(0, 500);
  s.colours = p.getAll("colour").filter(function (c) { return has.colours.has(c); });
  s.strands = p.getAll("strands").map(Number).filter(function (n) { return has.strands.has(n); });
  s.frieze = p.getAll("symmetry").filter(function (f) { return has.frieze.has(f); });
  s.repeat = number("repeat");
  s.minutes = number("minutes");
  s.even = Math.min(100, number("even") || 0);
  s.stash = p.get("stash") === "1";
  s.turn = p.get("turn") === "1";
  s.units = among("units", ["metric", "imperial"], null);
  s.match = among("match", ["all", "only"], "all");
  s.sort = among("sort", has.sorts, "rank");
  s.view = among("view", ["bands", "close"], "close");
  s.sight = among("sight", Object.keys(SIGHTS), "usual");
  s.zoom = among("zoom", ["fit", "life", "near", "nearest"], "auto");
  s.side = among("side", ["front", "back"], "front");
  s.pins = p.getAll("pin").filter(function (id, n, all) { return has.ids.has(id) && all.indexOf(id) === n; });
  s.open = has.ids.has(p.get("open")) ? p.get("open") : null;
  s.compare = p.get("compare") === "1" && s.pins.length > 0;
  p.getAll("paint").forEach(function (line) {
    var parts = line.split("~"), id = parts.shift();
    if (!has.ids.has(id)) { return; }
    parts.forEach(function (pair) {
      var two = pair.split(".").map(Number);
      if (two[0] >= 0 && two[0] < has.ids.get(id).names.length && two[1] >= 0 && two[1] < has.paints && two.every(Number.isInteger)) {
        s.paint[id] = s.paint[id] || {};
        s.paint[id][two[0]] = two[1];
      }
    });
  });
  return s;
}
