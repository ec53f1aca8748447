/* The cards: what is said of a design, and its cloth, drawn when it comes near the window. */

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

/* Puts the names of now for those as designed, where they stand as whole words. */
function renamed(text, from, to, capital) {
  var now = new Map();
  from.forEach(function (n, k) { if (n.trim()) { now.set(n.toLowerCase(), to[k]); } });
  var list = Array.from(now.keys()).sort(function (a, b) { return b.length - a.length; })
    .map(function (n) { return n.replace(/[.*+?^${}()|[\]\\/]/g, "\\$&"); });
  if (!list.length) { return text; }
  return text.replace(new RegExp("(?<![\\p{L}\\p{N}])(?:" + list.join("|") + ")(?![\\p{L}\\p{N}])", "giu"), function (found) {
    var word = now.get(found.toLowerCase());
    if (word === undefined) { return found; }
    return capital && found[0] !== found[0].toLowerCase() ? word[0].toUpperCase() + word.slice(1) : word;
  });
}

/* Whether two colours of the design have become one: then figure and balance are others too. */
function mergedIn(d, names) { return new Set(names).size < new Set(d.names).size; }

/* The title in the colours of now; where colours have become one it stays as designed. */
function titleOf(d, names) { return mergedIn(d, names) ? d.title : renamed(d.title, d.names, names, true); }

/* What to say of a design to those who do not see it; as motifsearch.describe.words.alt_text. */
function altOf(d, names) {
  var share = new Map();
  names.forEach(function (n, k) { share.set(n, (share.get(n) || 0) + d.share[k]); });
  var order = Array.from(share.keys()).sort(function (a, b) { return share.get(b) - share.get(a); });
  var look = d.look.replace(/\u2068([^\u2068\u2069]*)\u2069/g, function (all, name) {
    var k = d.names.indexOf(name);
    return k < 0 ? all : isolated(names[k]);
  });
  return "Knotted band of " + d.order.length + " strands, " + order.length + (order.length === 1 ? " colour: " : " colours: ") +
    order.map(function (n) { return isolated(n) + " " + percent(share.get(n)); }).join(", ") + ". " + look;
}

/* The smallest CIEDE2000 difference of two colours that touch; null where no two do. */
function contrastOf(d, names, hexes) {
  var least = null;
  touchingPairs(d).forEach(function (p) {
    if (names[p[0]] === names[p[1]]) { return; }
    var v = ciede2000(hexes[p[0]], hexes[p[1]]);
    least = least === null ? v : Math.min(least, v);
  });
  return least;
}

function hexesOf(d) {
  var own = S.paint[d.id] || {};
  return d.hexes.map(function (h, k) { return own[k] === undefined ? h : PAINTS[own[k]].hex; });
}
function isPainted(d) { var names = namesOf(d), hexes = hexesOf(d); return d.names.some(function (n, k) { return names[k] !== n || hexes[k] !== d.hexes[k]; }); }

/* A score in the colours of now. Only the contrast is another one, as long as no colours merge. */
function scoreOf(d, key) {
  return key === "colour.contrast" && S.paint[d.id] && isPainted(d) ? contrastOf(d, namesOf(d), hexesOf(d)) : d.scores[key];
}

/* Whether a number is of the design as it was, two of its colours being one by now. */
function isStale(d, key) { return /^(motif|symmetry|colour\.balance|repeat_mm)/.test(key) && mergedIn(d, namesOf(d)); }
var AS_DESIGNED = " (as designed)";

/* Strong and weak points in the colours of now. */
function pointsOf(d, look) {
  if (!look.painted) { return { strong: d.strong, weak: d.weak }; }
  var out = {}, c = contrastOf(d, look.names, look.hexes), step = c === null ? -1 : Math.floor(c) * 2 + (c > Math.floor(c) ? 1 : 0);
  var said = c === null ? null : DATA.contrastSays.filter(function (s) { return step >= s[0]; }).pop();
  ["strong", "weak"].forEach(function (kind) {
    out[kind] = d[kind].map(function (line, n) {
      var of = d[kind + "Of"][n];
      return of === "c" || of === "p" ? null : of === "m" && look.merged ? line + AS_DESIGNED : line;
    }).filter(Boolean);
    if (said && said[1] === kind) { out[kind].push(said[2].split("{n}").join(Math.round(c))); }
  });
  var short = shopping(missingOf(d, look)).map(function (i) { return isolated(i.name); });
  if (short.length) { out.weak.push("The threads on hand may not be enough in these colours: " + short.join(", ") + "."); }
  return out;
}

/* Names and colours of a design as it is shown now, what they look like, and what to say of it. */
function looksOf(d) {
  var names = namesOf(d), hexes = hexesOf(d);
  var seen = hexes.map(function (h) { return seenAs(h, S.sight); });
  var alike = [], one = [];
  touchingPairs(d).forEach(function (p) {
    var words = isolated(names[p[0]]) + " and " + isolated(names[p[1]]);
    if (names[p[0]] === names[p[1]]) { return; }
    if (ciede2000(hexes[p[0]], hexes[p[1]]) < DATA.mergeBelow) { alike.push(words); }
    else if (ciede2000(seen[p[0]], seen[p[1]]) < DATA.mergeBelow) { one.push(words); }
  });
  return Object.assign(namedAs(d), {
    names: names, hexes: hexes, seen: seen,
    alt: altOf(d, names),
    warning: (alike.length ? "Hard to tell apart where they touch: " + alike.join("; ") + "." : "") + (alike.length && one.length ? " " : "") +
      (one.length ? "These become one where they touch, seen " + SIGHTS[S.sight].words + ": " + one.join("; ") + "." : "")
  });
}

/* The dark between the threads, where no thread covers: else the page shines through as specks. */
function shade(canvas, d, hexes, scale, pitch, lying) {
  var sum = [0, 0, 0], inset = Math.round(1.7 * pitch * scale) + "px";
  d.order.forEach(function (c) { rgbOf(hexes[c]).forEach(function (v, k) { sum[k] += v; }); });
  var dark = hexOf(sum.map(function (v) { return v / d.order.length * 0.3; }));
  canvas.style.backgroundImage = "linear-gradient(" + dark + "," + dark + ")";
  canvas.style.backgroundRepeat = "no-repeat";
  canvas.style.backgroundPosition = "center";
  canvas.style.backgroundSize = lying ? "100% calc(100% - " + inset + ")" : "calc(100% - " + inset + ") 100%";
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
  shade(main, d, look.seen, 1 / dpr, device, true);
  card.whole.hidden = !near;
  if (near) {
    var small = Math.max(4, Math.round(whole * dpr));
    drawBand(card.whole, d, { rows: d.rows, pitch: small, hexes: look.seen, lying: true });
    fit(card.whole, d, Math.min(whole, 6) / small, true);
  }
  main.setAttribute("aria-label", look.alt);
  nameCard(d);
  card.warn.hidden = !look.warning;
  card.warn.textContent = look.warning;
  card.drawn = true;
}

/* Names and title in the colours of now: what needs no look at the knots. */
function namedAs(d) {
  var names = namesOf(d);
  return { names: names, painted: isPainted(d), merged: mergedIn(d, names), title: titleOf(d, names) };
}

/* "Lacks ochre, 192 cm: buy 1 skein of 8 m, 1.20 EUR"; several colours are summed up. */
function lackText(missing) {
  var items = shopping(missing), sum = sumText(items), skeins = items.reduce(function (n, i) { return n + i.skeins; }, 0);
  if (!items.length) { return ""; }
  var what = "Lacks " + items.map(function (i) { return isolated(i.name) + ", " + cutText(i.mm); }).join("; ") + ": ";
  return what + (items.length === 1 ? buyText(items[0]) : items.every(function (i) { return i.skeins; })
    ? "buy " + skeins + " skeins" + (sum ? ", " + sum + " in all" : "") : "no skein is long enough for some cuts") + ".";
}

/* Title, mark and lack of a card in the colours of now. */
function nameCard(d) {
  var card = cards.get(d.id), now = namedAs(d), text = lackText(missingOf(d, now));
  if (card.open.textContent !== now.title) { card.open.textContent = ""; card.open.append(bdi(now.title)); }
  card.pin.setAttribute("aria-label", "Pin " + now.title);
  card.mark.hidden = !now.painted;
  card.lack.hidden = !text;
  card.lack.textContent = text;
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
    cards.set(d.id, { li: li, open: open, pin: pin, facts: li.querySelector(".facts"), warn: li.querySelector(".warn"), mark: li.querySelector(".mark"), lack: li.querySelector(".lack"),
      cloth: li.querySelector(".cloth"), canvas: li.querySelector(".swatch"), whole: li.querySelector(".whole"), drawn: false, near: false });
  });
}

/* Up to this offcut all threads can as well be cut alike; ours, no source. */
var CUT_ALIKE = 0.1;

function facts() {
  DESIGNS.forEach(function (d) {
    var words = ["rank " + d.rank, d.order.length + " strands"];
    if (d.scores.repeat_mm !== null) { words.push("repeats every " + lengthText(d.scores.repeat_mm)); }
    if (DATA.frieze[d.frieze]) { words.push(DATA.frieze[d.frieze].short); }
    if (d.scores["handling.minutes"] !== null) { words.push(timeText(d.scores["handling.minutes"])); }
    if (d.scores["thread.evenness"] !== null) { words.push("thread evenness " + percent(d.scores["thread.evenness"])); }
    var offcut = d.scores["thread.offcut"];
    if (offcut !== null && offcut <= CUT_ALIKE) { words.push("cut alike wastes " + percent(offcut)); }
    cards.get(d.id).facts.textContent = words.join(" \u00b7 ");
    cards.get(d.id).canvas.setAttribute("aria-label", altOf(d, namesOf(d)));
    nameCard(d);
  });
}
