/* The page as a whole: the state in the address, the two dialogs, and the start. */

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
  paints: PAINTS, looksOf: looksOf, fit: fit, shade: shade, length: lengthText, fine: fineText, cut: cutText, both: bothText, show: showScore, set: set,
  togglePin: togglePin, open: openDesign, close: closeTop,
  paint: function (id, k, n) {
    var own = S.paint[id] || (S.paint[id] = {});
    if (k === null) { delete S.paint[id]; } else if (n === null) { delete own[k]; } else { own[k] = n; }
    if (S.paint[id] && !Object.keys(S.paint[id]).length) { delete S.paint[id]; }
    cards.get(id).drawn = false;
    nameCard(byId.get(id));
    if (cards.get(id).near) { drawCard(byId.get(id)); }
    showShopping();
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
if (DESIGNS.length) { $("lead").textContent += lengthsText() + " long; they lie with the start at the left. Open one for its threads, cuts and chart."; }
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
