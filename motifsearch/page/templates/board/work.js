/* The work of the band: its passes, which knots are tied, and the colours as they lie.
   A pass comes as (row, left position, knots): the strand that ties goes on row by row, so its way
   follows from the knots (motifsearch.pattern.passes). Knots: 0 rr, 1 ll, 2 rl, 3 lr. */

var DATA = JSON.parse(document.getElementById("data").textContent);
var S = DATA.order.length, R = DATA.rows;
var GRID = DATA.knots.split(" ").map(function (row) { return Array.from(row, Number); });

function idOf(r, i) { return r * S + i; }
function rowOf(id) { return Math.floor(id / S); }
function leftOf(id) { return id % S; }
function codeAt(r, i) { return GRID[r % GRID.length][(i - r % 2) / 2]; }

function passAt(r, i, n, part, round) {
  var ids = [], places = [], cores = [], codes = [], p = -1;
  for (var k = 0; k < n; k++, r++) {
    if (k) { i = (p ^ r) & 1 ? p - 1 : p; }
    var code = codeAt(r, i);
    p = code & 1 ? i + 1 : i;
    ids.push(idOf(r, i));
    places.push(p);
    codes.push(code);
    cores.push(code & 1 ? i : i + 1);
    if (!(code & 2)) { p = cores[k]; }
  }
  return { ids: ids, places: places, cores: cores, codes: codes, end: p, part: part, round: round };
}

function allPasses() {
  var out = [];
  function add(list, rows, part, round) {
    for (var k = 0; k < list.length; k += 3) { out.push(passAt(list[k] + rows, list[k + 1], list[k + 2], part, round)); }
  }
  add(DATA.opening, 0, "opening", 0);
  for (var t = 0; t < DATA.times; t++) { add(DATA.cycle, t * DATA.cycleRows, "round", t + 1); }
  add(DATA.ending, 0, DATA.times ? "ending" : "band", 0);
  return out;
}

var PASSES = allPasses(), KNOTS = 0, PASS_OF = new Int32Array(R * S).fill(-1), BEFORE = [0];
PASSES.forEach(function (pass, n) {
  pass.ids.forEach(function (id) { PASS_OF[id] = n; });
  KNOTS += pass.ids.length;
  BEFORE.push(KNOTS);
});

/* A place in the work: `at` passes are done, but for the knots in `undone` (after untying);
   `trail` holds the earlier `undone` of a repair, `changes` the slips that were left in. */
function newPlace() { return { at: 0, undone: [], trail: [], changes: [] }; }

function stepOf(place) {
  if (place.undone.length) {
    var n = PASSES.length;
    place.undone.forEach(function (id) { n = Math.min(n, PASS_OF[id]); });
    return { pass: n, from: PASSES[n].ids.findIndex(function (id) { return place.undone.indexOf(id) >= 0; }), again: true };
  }
  return place.at < PASSES.length ? { pass: place.at, from: 0, again: false } : null;
}

function forward(place) {
  var step = stepOf(place);
  if (!step) { return false; }
  if (!step.again) { place.at++; return true; }
  place.trail.push(place.undone);
  var now = PASSES[step.pass].ids;
  place.undone = place.undone.filter(function (id) { return now.indexOf(id) < 0; });
  if (!place.undone.length) { place.trail = []; }
  return true;
}

function backward(place) {
  if (place.trail.length) { place.undone = place.trail.pop(); return true; }
  if (place.undone.length || !place.at) { return false; }
  place.at--;
  return true;
}

function tiedIds(place, from) {
  var gone = new Set(place.undone), out = [];
  for (var n = from || 0; n < place.at; n++) {
    PASSES[n].ids.forEach(function (id) { if (!gone.has(id)) { out.push(id); } });
  }
  return out;
}

/* Plays the knots tied, slips and all: the strand at every position, and per knot who tied it and how. */
function play(place, whole) {
  var order = DATA.order.map(function (_, s) { return s; });
  var tying = new Int16Array(R * S).fill(-1), core = new Int16Array(R * S), code = new Uint8Array(R * S);
  var gone = new Set(place.undone), other = new Map(), swaps = [], last = whole ? PASSES.length : place.at;
  place.changes.forEach(function (c) { if (c.kind === "knot") { other.set(c.id, c.code); } else { swaps.push(c); } });
  for (var n = 0; n <= last; n++) {
    swaps.forEach(function (c) {
      if (c.at === n) { var o = order[c.a]; order[c.a] = order[c.b]; order[c.b] = o; }
    });
    if (n === last) { break; }
    var pass = PASSES[n];
    for (var k = 0; k < pass.ids.length; k++) {
      var id = pass.ids[k];
      if (!whole && gone.has(id)) { continue; }
      var i = id % S, c = other.has(id) ? other.get(id) : pass.codes[k], left = order[i], right = order[i + 1];
      code[id] = c;
      tying[id] = c & 1 ? right : left;
      core[id] = c & 1 ? left : right;
      if (!(c & 2)) { order[i] = right; order[i + 1] = left; }
    }
  }
  return { order: order, tying: tying, core: core, code: code };
}

/* What lies over some positions (motifsearch.pattern.untying): the knots of `tied`, in the order of
   work, that touch a held position; each holds both of its own in turn. Last one first. */
function liesOver(tied, held) {
  var open = new Set(held), found = [];
  tied.forEach(function (id) {
    var i = id % S;
    if (open.has(i) || open.has(i + 1)) { open.add(i); open.add(i + 1); found.push(id); }
  });
  return found.reverse();
}

function untieKnot(place, id) {
  var tied = tiedIds(place), i = id % S;
  return liesOver(tied.slice(tied.indexOf(id) + 1), [i, i + 1]).concat([id]);
}

function untieSwap(place, at, a, b) { return liesOver(tiedIds(place, at), [a, b]); }

/* Takes knots out; slips that were in them, or that lie over what is taken out, go with them. */
function takeOut(place, ids) {
  var gone = new Set(place.undone.concat(ids));
  place.trail = [place.undone];
  place.undone = Array.from(gone);
  place.changes = place.changes.filter(function (c) {
    if (c.kind === "knot") { return !gone.has(c.id); }
    return !ids.some(function (id) {
      var i = id % S;
      return PASS_OF[id] < c.at && (c.a === i || c.a === i + 1 || c.b === i || c.b === i + 1);
    });
  });
}

/* Notches as they are seen. */
var hand = { mirrored: DATA.mirrored };
function seenAt(p) { return hand.mirrored ? S - 1 - p : p; }
function notchOf(p) { return DATA.firstNotch + seenAt(p); }
function codeSeen(c) { return hand.mirrored ? c ^ 1 : c; }
function gapOf(i) { var a = notchOf(i), b = notchOf(i + 1); return { a: Math.min(a, b), b: Math.max(a, b) }; }
