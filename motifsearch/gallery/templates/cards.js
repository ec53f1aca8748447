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
