/* Filters, order and pins: which cards are shown, and what the controls say. */

function fits(d) {
  if (S.name && d.title.toLocaleLowerCase().indexOf(S.name.toLocaleLowerCase()) < 0) { return false; }
  if (S.colours.length) {
    if (S.match === "all" && !S.colours.every(function (c) { return d.names.indexOf(c) >= 0; })) { return false; }
    if (S.match === "only" && !d.names.every(function (c) { return S.colours.indexOf(c) >= 0; })) { return false; }
  }
  if (S.strands.length && S.strands.indexOf(d.order.length) < 0) { return false; }
  if (S.frieze.length && S.frieze.indexOf(d.frieze) < 0) { return false; }
  /* What is shown as 2 cm passes "at most 2 cm". */
  if (S.repeat !== null && !(d.scores.repeat_mm !== null && d.scores.repeat_mm < S.repeat + 2.5)) { return false; }
  if (S.minutes !== null && !(d.scores["handling.minutes"] !== null && d.scores["handling.minutes"] <= S.minutes + 0.05)) { return false; }
  if (S.even && !(d.scores["thread.evenness"] !== null && d.scores["thread.evenness"] * 100 >= S.even - 1e-9)) { return false; }
  return !S.stash || Boolean(d.plan && d.plan.feasible);
}

function ordered(list) {
  var o = DATA.sorts.filter(function (x) { return x.key === S.sort; })[0], sorted = list.slice();
  if (o) {
    var sign = (o.better === "high" ? -1 : 1) * (S.turn ? -1 : 1);
    sorted.sort(function (a, b) {
      var x = scoreOf(a, o.key), y = scoreOf(b, o.key);
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
  slider("repeat", "repeat_mm", lengthText, 5);
  slider("minutes", "handling.minutes", timeText, 1);
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
function slider(name, key, text, step) {
  var values = DESIGNS.map(function (d) { return d.scores[key]; }).filter(function (v) { return v !== null; }), input = $("f-" + name);
  if (!values.length) { input.parentNode.hidden = true; return; }
  limits[name] = { low: Math.ceil(Math.min.apply(null, values) / step) * step, high: Math.ceil(Math.max.apply(null, values) / step) * step, text: text };
  input.step = step;
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
  showShopping();
}

/* What to buy for all of these, made one after another: a heading, lines, a closing sentence. */
function shoppingFor(designs) {
  var items = shopping(missingOfAll(designs, designs.map(namedAs))), sum = sumText(items);
  return {
    head: !items.length ? "Nothing to buy" : "Shopping list: " + items.length + (items.length === 1 ? " colour" : " colours") + (sum ? ", " + sum : ""),
    lines: items.map(function (i) {
      return el("li", {}, bdi(i.name), ": " + cutText(i.mm) + " missing in " + i.cuts + (i.cuts === 1 ? " cut, " : " cuts, ") + buyText(i));
    }),
    note: !items.length ? "The threads on hand are enough for all that is pinned."
      : "For all that is pinned, made one after another from the threads on hand." + (sum && items.length > 1 ? " Together " + sum + "." : "")
  };
}

/* The same in the tray. */
function showShopping() {
  var pinned = S.pins.map(function (id) { return byId.get(id); });
  $("shop").hidden = !DATA.stash || !pinned.length;
  if ($("shop").hidden) { return; }
  var says = shoppingFor(pinned);
  $("shop-words").textContent = says.head;
  $("shop-list").textContent = "";
  $("shop-list").append.apply($("shop-list"), says.lines);
  $("shop-note").textContent = says.note;
}
