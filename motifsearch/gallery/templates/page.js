/* The page: cards, filters, sorting, pins, and the state in the address. */

var DESIGNS = DATA.designs, byId = new Map(DESIGNS.map(function (d) { return [d.id, d]; }));
var $ = function (id) { return document.getElementById(id); };
var S, cards = new Map(), shown = [], detail = null, opener = null;

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
function lengthText(mm) {
  if (mm === null) { return "none"; }
  if (imperial()) { return quarters(mm, Math.round); }
  return mm < 100 ? Math.round(mm) + " mm" : (mm / 10).toFixed(mm % 10 < 0.5 || mm >= 1000 ? 0 : 1).replace(/\.0$/, "") + " cm";
}
function cutText(mm, nearest) {
  if (mm === null) { return "none"; }
  return imperial() ? quarters(mm, nearest ? Math.round : Math.ceil) : (nearest ? Math.round(mm / 10) : Math.ceil(mm / 10 - 1e-6)) + " cm";
}
function bothText(one, two) { return (imperial() ? cutText(one, true) : Math.round(one / 10)) + " + " + cutText(two, true); }
function longText(mm) { return imperial() ? (mm / 914.4).toFixed(1) + " yd" : (mm / 1000).toFixed(1) + " m"; }
function timeText(minutes) {
  var m = Math.round(minutes), h = Math.floor(m / 60);
  return h ? h + " h" + (m % 60 ? " " + m % 60 + " min" : "") : m + " min";
}
function showScore(d, o) {
  var v = d.scores[o.key];
  if (v === null) { return "none"; }
  return { percent: percent, length: lengthText, "long": longText, time: timeText,
    number: function (x) { return String(Math.round(x)); }, decimal: function (x) { return x.toFixed(1); } }[o.as](v);
}

/* What a design can be recoloured with: the stash, or all colours of this gallery. */
var PAINTS = DATA.stash || (function () {
  var seen = new Map();
  DESIGNS.forEach(function (d) { d.names.forEach(function (n, k) { if (!seen.has(n)) { seen.set(n, { name: n, hex: d.hexes[k] }); } }); });
  return Array.from(seen.values());
})();

function namesOf(d) {
  var own = S.paint[d.id] || {};
  return d.names.map(function (n, k) { return own[k] === undefined ? n : PAINTS[own[k]].name; });
}

/* What to say of a design to those who do not see it; as motifsearch.gallery.words.alt_text. */
function altOf(d, names) {
  var share = new Map();
  names.forEach(function (n, k) { share.set(n, (share.get(n) || 0) + d.share[k]); });
  var order = Array.from(share.keys()).sort(function (a, b) { return share.get(b) - share.get(a); });
  return "Knotted band of " + d.order.length + " strands, " + order.length + (order.length === 1 ? " colour: " : " colours: ") +
    order.map(function (n) { return isolated(n) + " " + percent(share.get(n)); }).join(", ") + ". " + d.look;
}

/* Names and colours of a design as it is shown now, what they look like, and what to say of it. */
function looksOf(d) {
  var own = S.paint[d.id] || {}, names = namesOf(d);
  var hexes = d.hexes.map(function (h, k) { return own[k] === undefined ? h : PAINTS[own[k]].hex; });
  var seen = hexes.map(function (h) { return seenAs(h, S.sight); });
  var alike = [], one = [];
  touchingPairs(d).forEach(function (p) {
    var words = isolated(names[p[0]]) + " and " + isolated(names[p[1]]);
    if (names[p[0]] === names[p[1]]) { return; }
    if (ciede2000(hexes[p[0]], hexes[p[1]]) < DATA.mergeBelow) { alike.push(words); }
    else if (ciede2000(seen[p[0]], seen[p[1]]) < DATA.mergeBelow) { one.push(words); }
  });
  return {
    names: names, hexes: hexes, seen: seen,
    alt: altOf(d, names),
    warning: (alike.length ? "Hard to tell apart where they touch: " + alike.join("; ") + "." : "") + (alike.length && one.length ? " " : "") +
      (one.length ? "These become one where they touch, seen " + SIGHTS[S.sight].words + ": " + one.join("; ") + "." : "")
  };
}

/* Sets the size in CSS pixels; a gauge whose rows are not as wide as its strands is stretched. */
function fit(canvas, d, scale, lying) {
  var ratio = Math.min(2, Math.max(0.5, d.strandMm / d.pitchMm || 1));
  canvas.style.width = canvas.width * scale * (lying ? 1 : ratio) + "px";
  canvas.style.height = canvas.height * scale * (lying ? ratio : 1) + "px";
}

function drawCard(d) {
  var card = cards.get(d.id), room = card.cloth.clientWidth, look = looksOf(d);
  if (!room) { return; }
  var dpr = Math.min(window.devicePixelRatio || 1, 2), whole = room / (d.rows + 1), main = card.canvas;
  var near = S.view === "close" || whole < 4.5, cell = near ? (S.view === "close" ? 11 : 10) : Math.min(whole, 16);
  var device = Math.max(2, near ? Math.round(cell * dpr) : Math.floor(cell * dpr));
  var rows = near ? Math.max(2, Math.min(d.rows, Math.floor(room * dpr / device - 1))) : d.rows;
  drawBand(main, d, { rows: rows, pitch: device, hexes: look.seen, lying: true });
  fit(main, d, 1 / dpr, true);
  card.whole.hidden = !near;
  if (near) {
    var small = Math.max(4, Math.round(whole * dpr));
    drawBand(card.whole, d, { rows: d.rows, pitch: small, hexes: look.seen, lying: true });
    fit(card.whole, d, Math.min(whole, 6) / small, true);
  }
  main.setAttribute("aria-label", look.alt);
  card.warn.hidden = !look.warning;
  card.warn.textContent = look.warning;
  card.drawn = true;
}

var watcher = new IntersectionObserver(function (seen) {
  seen.forEach(function (e) {
    var d = byId.get(e.target.dataset.id), card = cards.get(d.id);
    card.near = e.isIntersecting;
    if (e.isIntersecting) { if (!card.drawn) { drawCard(d); } }
    else if (card.drawn) { card.canvas.width = card.whole.width = 0; card.drawn = false; }
  });
}, { rootMargin: "500px" });

function redraw() {
  cards.forEach(function (card, id) {
    card.drawn = false;
    if (card.near) { drawCard(byId.get(id)); }
  });
}

function makeCards() {
  var mould = $("card").content;
  DESIGNS.forEach(function (d) {
    var li = mould.cloneNode(true).firstElementChild, open = li.querySelector(".open"), pin = li.querySelector(".pin");
    li.dataset.id = d.id;
    open.append(bdi(d.title));
    open.addEventListener("click", function () { openDesign(d.id); });
    li.querySelector(".cloth").addEventListener("click", function () { open.focus({ preventScroll: true }); openDesign(d.id); });
    pin.setAttribute("aria-label", "Pin " + d.title);
    pin.addEventListener("click", function () { togglePin(d.id); });
    cards.set(d.id, { li: li, open: open, pin: pin, facts: li.querySelector(".facts"), warn: li.querySelector(".warn"),
      cloth: li.querySelector(".cloth"), canvas: li.querySelector(".swatch"), whole: li.querySelector(".whole"), drawn: false, near: false });
  });
}

function facts() {
  DESIGNS.forEach(function (d) {
    var words = ["rank " + d.rank, d.order.length + " strands"];
    if (d.scores.repeat_mm !== null) { words.push("repeats every " + lengthText(d.scores.repeat_mm)); }
    if (DATA.frieze[d.frieze]) { words.push(DATA.frieze[d.frieze].short); }
    if (d.scores["handling.minutes"] !== null) { words.push(timeText(d.scores["handling.minutes"])); }
    if (d.scores["thread.evenness"] !== null) { words.push("thread evenness " + percent(d.scores["thread.evenness"])); }
    if (d.plan && !d.plan.feasible) { words.push("needs more thread than on hand"); }
    cards.get(d.id).facts.textContent = words.join(" \u00b7 ");
    cards.get(d.id).canvas.setAttribute("aria-label", altOf(d, namesOf(d)));
  });
}

/* Filters and order. */
function fits(d) {
  if (S.name && d.title.toLocaleLowerCase().indexOf(S.name.toLocaleLowerCase()) < 0) { return false; }
  if (S.colours.length) {
    if (S.match === "all" && !S.colours.every(function (c) { return d.names.indexOf(c) >= 0; })) { return false; }
    if (S.match === "only" && !d.names.every(function (c) { return S.colours.indexOf(c) >= 0; })) { return false; }
  }
  if (S.strands.length && S.strands.indexOf(d.order.length) < 0) { return false; }
  if (S.frieze.length && S.frieze.indexOf(d.frieze) < 0) { return false; }
  if (S.repeat !== null && !(d.scores.repeat_mm !== null && d.scores.repeat_mm <= S.repeat + 0.05)) { return false; }
  if (S.minutes !== null && !(d.scores["handling.minutes"] !== null && d.scores["handling.minutes"] <= S.minutes + 0.05)) { return false; }
  if (S.even && !(d.scores["thread.evenness"] !== null && d.scores["thread.evenness"] * 100 >= S.even - 1e-9)) { return false; }
  return !S.stash || Boolean(d.plan && d.plan.feasible);
}

function ordered(list) {
  var o = DATA.sorts.filter(function (x) { return x.key === S.sort; })[0], sorted = list.slice();
  if (o) {
    var sign = (o.better === "high" ? -1 : 1) * (S.turn ? -1 : 1);
    sorted.sort(function (a, b) {
      var x = a.scores[o.key], y = b.scores[o.key];
      if (x === null || y === null) { return (x === null) - (y === null); }
      return sign * (x - y);
    });
  } else if (S.turn) { sorted.reverse(); }
  return sorted;
}

function sieve() {
  performance.mark("sieve-start");
  var all = ordered(DESIGNS), list = $("designs"), held = document.activeElement;
  shown = all.filter(fits);
  var keep = new Set(shown);
  list.classList.toggle("close", S.view === "close");
  DESIGNS.forEach(function (d) { cards.get(d.id).li.hidden = !keep.has(d); });
  /* Only a new order moves the cards; moving one that holds the focus would lose it. */
  if (all.some(function (d, n) { return list.children[n] !== cards.get(d.id).li; })) {
    list.append.apply(list, all.map(function (d) { return cards.get(d.id).li; }));
    if (held && held !== document.activeElement && document.contains(held)) { held.focus({ preventScroll: true }); }
  }
  $("count").textContent = shown.length === DESIGNS.length
    ? DESIGNS.length + (DESIGNS.length === 1 ? " design" : " designs") : shown.length + " of " + DESIGNS.length + " designs";
  $("none").hidden = shown.length > 0 || DESIGNS.length === 0;
  performance.measure("sieve", "sieve-start");
}

function chip(words, pressed, onclick, hex) {
  var b = el("button", { type: "button", "aria-pressed": String(pressed) }, hex ? dot(hex) : null, bdi(words));
  b.addEventListener("click", onclick);
  return b;
}

var HAS = { colours: new Map(), strands: new Map(), frieze: new Map(), ids: byId, paints: PAINTS.length,
  sorts: ["rank"].concat(DATA.sorts.map(function (o) { return o.key; })) };

function tally(map, key, value) {
  if (!map.has(key)) { map.set(key, { n: 0, value: value }); }
  map.get(key).n += 1;
}

function toggle(list, value) {
  var at = list.indexOf(value);
  if (at >= 0) { list.splice(at, 1); } else { list.push(value); }
}

function makeFilters() {
  DESIGNS.forEach(function (d) {
    d.names.forEach(function (n, k) { tally(HAS.colours, n, d.hexes[k]); });
    tally(HAS.strands, d.order.length, d.order.length);
    tally(HAS.frieze, d.frieze, d.frieze);
  });
  Array.from(HAS.colours.keys()).sort(function (a, b) { return HAS.colours.get(b).n - HAS.colours.get(a).n; }).forEach(function (c) {
    var b = chip(c, false, function () { toggle(S.colours, c); changed(); }, HAS.colours.get(c).value);
    b.dataset.value = c;
    $("f-colours").append(b);
  });
  Array.from(HAS.strands.keys()).sort(function (a, b) { return a - b; }).forEach(function (n) {
    var b = chip(String(n), false, function () { toggle(S.strands, n); changed(); });
    b.dataset.value = n;
    $("f-strands").append(b);
  });
  Object.keys(DATA.frieze).concat(Array.from(HAS.frieze.keys())).forEach(function (f, n, all) {
    if (!HAS.frieze.has(f) || all.indexOf(f) !== n) { return; }
    var tick = el("input", { type: "checkbox", id: "frieze-" + n, value: f });
    tick.addEventListener("change", function () { toggle(S.frieze, f); changed(); });
    var words = DATA.frieze[f] ? DATA.frieze[f].short : f || "not known";
    $("f-frieze").append(el("div", { "class": "tick" }, tick, el("label", { "for": "frieze-" + n }, words + " (" + HAS.frieze.get(f).n + ")")));
  });
  slider("repeat", "repeat_mm", lengthText);
  slider("minutes", "handling.minutes", timeText);
  $("f-even").addEventListener("input", function () { S.even = Number($("f-even").value); changed(); });
  $("f-name").addEventListener("input", function () { S.name = $("f-name").value; changed(); });
  $("f-match").addEventListener("change", function () { S.match = $("f-match").value; changed(); });
  $("f-stash").addEventListener("change", function () { S.stash = $("f-stash").checked; changed(); });
  $("p-stash").hidden = !DESIGNS.some(function (d) { return d.plan; });
  $("sort").append(el("option", { value: "rank" }, "rank"));
  DATA.sorts.forEach(function (o) {
    if (DESIGNS.some(function (d) { return d.scores[o.key] !== null; })) { $("sort").append(el("option", { value: o.key }, o.words)); }
  });
  Object.keys(SIGHTS).forEach(function (k) { $("sight").append(el("option", { value: k }, SIGHTS[k].words)); });
  $("sort").addEventListener("change", function () { S.sort = $("sort").value; changed(); });
  $("turn").addEventListener("change", function () { S.turn = $("turn").checked; changed(); });
  $("sight").addEventListener("change", function () { set("sight", $("sight").value); });
  $("units").addEventListener("change", function () { S.units = $("units").value; facts(); changed(); });
  ["bands", "close"].forEach(function (v) { $("v-" + v).addEventListener("change", function () { S.view = v; changed(); redraw(); }); });
  ["clear", "clear2"].forEach(function (id) { $(id).addEventListener("click", function () {
    ["name", "colours", "match", "strands", "frieze", "repeat", "minutes", "even", "stash"].forEach(function (k) { S[k] = freshState()[k]; });
    changed();
    if (id === "clear2") { $("list").focus(); }
  }); });
  $("filters").addEventListener("submit", function (e) { e.preventDefault(); });
  $("compare").addEventListener("click", function () { S.compare = true; commit(true); dialogs(); });
  $("unpin").addEventListener("click", function () { S.pins = []; changed(); $("list").focus(); });
}

var limits = {};
function slider(name, key, text) {
  var values = DESIGNS.map(function (d) { return d.scores[key]; }).filter(function (v) { return v !== null; }), input = $("f-" + name);
  if (!values.length) { input.parentNode.hidden = true; return; }
  limits[name] = { low: Math.ceil(Math.min.apply(null, values)), high: Math.ceil(Math.max.apply(null, values)), text: text };
  input.min = limits[name].low;
  input.max = limits[name].high;
  input.addEventListener("input", function () {
    S[name] = Number(input.value) >= limits[name].high ? null : Number(input.value);
    changed();
  });
}

function showFilters() {
  [["f-colours", S.colours], ["f-strands", S.strands.map(String)]].forEach(function (two) {
    Array.from($(two[0]).children).forEach(function (b) { b.setAttribute("aria-pressed", String(two[1].indexOf(b.dataset.value) >= 0)); });
  });
  $("f-frieze").querySelectorAll("input").forEach(function (i) { i.checked = S.frieze.indexOf(i.value) >= 0; });
  Object.keys(limits).forEach(function (k) {
    var l = limits[k], now = S[k] === null ? l.high : S[k], text = S[k] === null ? "any" : l.text(S[k]);
    $("f-" + k).value = now;
    $("f-" + k).setAttribute("aria-valuetext", text);
    $("o-" + k).textContent = text;
  });
  $("f-even").value = S.even;
  $("o-even").textContent = S.even ? S.even + "%" : "any";
  $("f-even").setAttribute("aria-valuetext", $("o-even").textContent);
  if ($("f-name").value !== S.name) { $("f-name").value = S.name; }
  $("f-match").value = S.match;
  $("f-stash").checked = S.stash;
  $("sort").value = S.sort;
  $("turn").checked = S.turn;
  $("sight").value = S.sight;
  $("units").value = imperial() ? "imperial" : "metric";
  $("v-bands").checked = S.view === "bands";
  $("v-close").checked = S.view === "close";
}

function showPins() {
  cards.forEach(function (card, id) {
    var pinned = S.pins.indexOf(id) >= 0;
    card.pin.setAttribute("aria-pressed", String(pinned));
    card.pin.textContent = pinned ? "Pinned" : "Pin";
  });
  $("tray").hidden = !S.pins.length;
  $("tray-words").textContent = S.pins.length + " pinned";
}

/* The address. */
var waiting = 0;
function writeNow(push) {
  clearTimeout(waiting);
  var text = writeFragment(S), address = location.href.replace(/#.*$/, "") + "#" + text;
  if (location.hash.replace(/^#/, "") === text) { return; }
  history[push ? "pushState" : "replaceState"](null, "", address);
}
function commit(push) {
  clearTimeout(waiting);
  if (push) { writeNow(true); } else { waiting = setTimeout(writeNow, 120); }
}
function changed() { showFilters(); sieve(); showPins(); commit(false); }
function set(key, value) {
  S[key] = value;
  if (key === "sight") { redraw(); }
  showFilters();
  if (detail) { detail.refresh(); }
  commit(false);
}

function togglePin(id) {
  toggle(S.pins, id);
  if (!S.pins.length) { S.compare = false; }
  showPins();
  if (detail) { detail.refresh(); }
  commit(false);
  if (S.compare || $("side").open) { dialogs(true); }
}

function openDesign(id) {
  S.open = id;
  commit(true);
  dialogs();
}
function closeTop() {
  if (S.open) { S.open = null; } else { S.compare = false; }
  commit(true);
  dialogs();
}

/* Opens and closes the two dialogs as the state says; the browser keeps and returns the focus. */
function dialogs(again) {
  var one = $("detail"), two = $("side");
  document.body.classList.toggle("deep", Boolean(S.open || S.compare));
  if (S.compare && (!two.open || again)) {
    buildCompare(two, S.pins.map(function (id) { return byId.get(id); }), UI);
    if (!two.open) { two.showModal(); } else { two.querySelector("#side-title").focus(); }
  } else if (!S.compare && two.open) { two.close(); }
  if (S.open) {
    if (!detail || detail.design.id !== S.open) { detail = buildDetail(one, byId.get(S.open), UI); }
    if (!one.open) { one.showModal(); $("detail-title").focus(); }
    detail.refresh();
    one.scrollTop = 0;
  } else {
    if (one.open) { one.close(); }
    detail = null;
    one.textContent = "";
  }
}

var UI = {
  get state() { return S; },
  get zoom() { return S.zoom === "auto" ? (window.innerWidth < 700 ? "near" : "fit") : S.zoom; },
  paints: PAINTS, looksOf: looksOf, fit: fit, length: lengthText, cut: cutText, both: bothText, show: showScore, set: set,
  togglePin: togglePin, open: openDesign, close: closeTop,
  paint: function (id, k, n) {
    var own = S.paint[id] || (S.paint[id] = {});
    if (k === null) { delete S.paint[id]; } else if (n === null) { delete own[k]; } else { own[k] = n; }
    if (S.paint[id] && !Object.keys(S.paint[id]).length) { delete S.paint[id]; }
    cards.get(id).drawn = false;
    if (cards.get(id).near) { drawCard(byId.get(id)); }
    if (detail) { detail.refresh(); }
    commit(false);
  },
  canStep: function (by) { return Boolean(shown[shown.findIndex(function (d) { return d.id === S.open; }) + by]) && shown.some(function (d) { return d.id === S.open; }); },
  step: function (by) {
    if (!UI.canStep(by)) { return; }
    S.open = shown[shown.findIndex(function (d) { return d.id === S.open; }) + by].id;
    commit(false);
    dialogs();
    var again = $("detail").querySelector(by < 0 ? ".before" : ".after");
    (again.disabled ? $("detail-title") : again).focus();
  }
};

function restore() {
  S = readFragment(location.hash, HAS);
  facts();
  showFilters();
  sieve();
  showPins();
  redraw();
  dialogs(true);
}

makeFilters();
makeCards();
$("lead").textContent = DESIGNS.length ? "Designs that can be knotted as they are shown, " : "No design was found.";
S = readFragment(location.hash, HAS);
if (DESIGNS.length) { $("lead").textContent += lengthText(DATA.lengthMm) + " long; they lie with the start at the left. Open one for its threads, cuts and chart."; }
$("work").hidden = false;
if (window.matchMedia("(max-width: 60rem)").matches) { $("sieve").open = false; }
restore();
cards.forEach(function (card) { watcher.observe(card.li); });

["detail", "side"].forEach(function (id) {
  $(id).addEventListener("cancel", function (e) { e.preventDefault(); closeTop(); });
  $(id).addEventListener("click", function (e) { if (e.target === $(id)) { closeTop(); } });
  /* A browser may close a dialog by itself; then the state follows. */
  $(id).addEventListener("close", function () {
    if (id === "detail" && S.open) { S.open = null; commit(true); dialogs(); }
    if (id === "side" && S.compare) { S.compare = false; commit(true); dialogs(); }
  });
});
document.querySelector(".skip").addEventListener("click", function (e) { e.preventDefault(); $("list").focus(); });
window.addEventListener("popstate", restore);
window.addEventListener("hashchange", function () { if (location.hash.replace(/^#/, "") !== writeFragment(S)) { restore(); } });
var widthNow = window.innerWidth, sizing = 0;
window.addEventListener("resize", function () {
  if (window.innerWidth === widthNow) { return; }
  widthNow = window.innerWidth;
  cancelAnimationFrame(sizing);
  sizing = requestAnimationFrame(function () { redraw(); if (detail) { detail.resize(); } });
});
window.addEventListener("beforeprint", function () {
  if (!S.open && !S.compare) { shown.forEach(function (d) { if (!cards.get(d.id).drawn) { drawCard(d); } }); }
});
window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", function () { if (detail) { detail.refresh(); } });
requestAnimationFrame(function () {
  performance.mark("ready");
  document.documentElement.dataset.ready = "1";
});
