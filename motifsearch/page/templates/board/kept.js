/* What the device keeps: the place of every band of this design, the maker's pace, and her ways.
   Nothing of it leaves the device. Where storage is shut off, the page works without. */

var PLACE_KEY = "motifsearch-board/" + DATA.id, WAYS_KEY = "motifsearch-board-ways", PACE_KEY = "motifsearch-board-pace";

function readKept(key) {
  try { return JSON.parse(localStorage.getItem(key)); } catch (shut) { return null; }
}
function keep(key, value) {
  try { localStorage.setItem(key, JSON.stringify(value)); } catch (shut) { /* worked without */ }
}

function isId(id) { return Number.isInteger(id) && id >= 0 && id < R * S && PASS_OF[id] >= 0; }
function isPlace(p) {
  return p && Number.isInteger(p.at) && p.at >= 0 && p.at <= PASSES.length && Array.isArray(p.undone) &&
    p.undone.every(function (id) { return isId(id) && PASS_OF[id] < p.at; }) &&
    Array.isArray(p.trail) && p.trail.every(function (t) { return Array.isArray(t) && t.every(isId); }) &&
    Array.isArray(p.changes) && p.changes.every(function (c) {
      return c.kind === "knot" ? isId(c.id) && c.code >= 0 && c.code < 4 :
        c.kind === "swap" && [c.a, c.b].every(function (n) { return Number.isInteger(n) && n >= 0 && n < S; }) && Number.isInteger(c.at);
    });
}

var kept = readKept(PLACE_KEY);
if (!kept || !Array.isArray(kept.bands) || !kept.bands.length || !kept.bands.every(isPlace)) {
  kept = { bands: [newPlace()], now: 0 };
}
if (!(kept.now >= 0 && kept.now < kept.bands.length)) { kept.now = 0; }
var place = kept.bands[kept.now];
function keepPlace() { keep(PLACE_KEY, kept); }

var ways = Object.assign({ mirrored: null, letters: false, awake: false, rate: 1 }, readKept(WAYS_KEY) || {});
function keepWays() { keep(WAYS_KEY, ways); }
hand.mirrored = ways.mirrored === null ? DATA.mirrored : ways.mirrored;
voice.rate = ways.rate >= 0.5 && ways.rate <= 2 ? ways.rate : 1;

/* Her pace: seconds and knots of the steps that were taken one after the other. A pause is no
   pace, and neither is skimming through. */
var pace = Object.assign({ knots: 0, seconds: 0 }, readKept(PACE_KEY) || {});
var LONGEST_STEP_S = 300, SHORTEST_KNOT_S = 0.7, TOLD_AFTER = 20, stepBegun = 0;
if (!(pace.knots >= 0 && pace.seconds >= 0)) { pace = { knots: 0, seconds: 0 }; }

function noteStep(knots, now) {
  var took = (now - stepBegun) / 1000;
  if (stepBegun && took <= LONGEST_STEP_S && took >= SHORTEST_KNOT_S * knots) {
    pace.knots += knots;
    pace.seconds += took;
    if (pace.knots > 1500) { pace.seconds *= 0.7; pace.knots *= 0.7; }
    keep(PACE_KEY, pace);
  }
  stepBegun = now;
}
function ownPace() { return pace.knots >= TOLD_AFTER ? pace.seconds / pace.knots : null; }
function timeLeft() {
  var left = KNOTS - BEFORE[place.at] + place.undone.length, own = ownPace();
  if (own !== null) { return { own: true, seconds: left * own }; }
  return { own: false, seconds: left * DATA.secondsPerKnot + (PASSES.length - place.at) * DATA.secondsPerPickUp };
}
