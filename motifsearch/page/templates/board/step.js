/* The step: large on the page, in data for scripts, and spoken. */

function $(id) { return document.getElementById(id); }
function el(name, attributes, children) {
  var node = document.createElement(name);
  Object.keys(attributes || {}).forEach(function (key) {
    var value = attributes[key];
    if (key.slice(0, 2) === "on") { node.addEventListener(key.slice(2), value); }
    else if (value === true) { node.setAttribute(key, ""); }
    else if (value !== false && value !== null && value !== undefined) { node.setAttribute(key, value); }
  });
  [].concat(children === undefined ? [] : children).forEach(function (child) { node.append(child); });
  return node;
}
function bdi(text) { return el("bdi", {}, text); }

/* A square of colour with its letter. */
function square(colour, more) {
  var node = el("span", { "class": "square" + (more || ""), "aria-hidden": "true" }, DATA.letters[colour]);
  node.style.backgroundColor = DATA.hexes[colour];
  node.style.borderColor = shade(DATA.hexes[colour], 0.5);
  node.style.color = inkOn(DATA.hexes[colour]);
  return node;
}

/* The two wraps of a knot as they lie on the cloth: our chart's drawing of it. */
function wraps(code, colour) {
  var node = svg("svg", { viewBox: "-12 -13 24 26", "class": "wraps", "aria-hidden": "true" }), way = code & 1 ? -1 : 1;
  var bars = code & 2 ? [[-7, -8, 7, -3.6], [7, 3.6, -7, 8]] : [[-3, -9, 8, 0], [-8, 0, 3, 9]];
  bars.forEach(function (b) {
    [[8.8, shade(DATA.hexes[colour], 0.5)], [6.6, DATA.hexes[colour]]].forEach(function (line) {
      svg("line", { x1: b[0] * way, y1: b[1], x2: b[2] * way, y2: b[3], stroke: line[1], "stroke-width": line[0], "stroke-linecap": "round" }, node);
    });
  });
  return node;
}

/* A core of the tying strand's own colour is drawn paler or darker, so that the two stay apart. */
function mixed(hex) {
  var to = inkOn(hex) === "#ffffff" ? 255 : 90;
  return "#" + rgbOf(hex).map(function (v) { return (256 + Math.round(v * 0.55 + to * 0.45)).toString(16).slice(1); }).join("");
}

/* The two pictures of a knot, in the colours of the strands. */
function knotPictures(code, tie, core) {
  var seen = codeSeen(code), box = el("div", { "class": "tying" });
  [["how_first", 0], ["how_second", 1]].forEach(function (one) {
    var figure = el("figure"), drawing = svg("svg", { viewBox: "0 0 100 126", "aria-hidden": "true" });
    svg("use", { href: "#knot-" + seen + "-" + one[1] }, drawing);
    drawing.style.setProperty("--tie", DATA.hexes[tie]);
    drawing.style.setProperty("--tie-edge", shade(DATA.hexes[tie], 0.5));
    var alike = tie === core ? mixed(DATA.hexes[core]) : DATA.hexes[core];
    drawing.style.setProperty("--core", alike);
    drawing.style.setProperty("--core-edge", shade(alike, 0.5));
    figure.append(drawing, el("figcaption", {}, say(one[0])));
    box.append(figure);
  });
  return el("div", { "class": "how" }, [el("p", {}, [el("strong", {}, say("knot_" + seen)), ": " + say("knot_way_" + seen)]), box]);
}

var now = { step: null, state: null, text: "" };

function colourOf(st, p) { return DATA.order[st.order[p]]; }

function showStep(st) {
  var step = stepOf(place), box = $("step"), shown = step || { pass: PASSES.length - 1, from: 0 }, pass = PASSES[shown.pass];
  now.step = step;
  now.state = st;
  box.dataset.step = shown.pass + 1;
  box.dataset.steps = PASSES.length;
  box.dataset.notch = notchOf(pass.places[shown.from]);
  box.dataset.over = pass.cores.slice(shown.from).map(notchOf).join(" ");
  box.dataset.knots = pass.codes.slice(shown.from).map(function (c) { return DATA.knotNames[codeSeen(c)]; }).join(" ");
  box.dataset.end = notchOf(pass.end);
  box.dataset.finished = step ? "" : "1";
  $("doing").hidden = !step;
  $("finished").hidden = !!step;
  if (!step) {
    now.text = say("say_done", { n: R });
    $("finished-how").textContent = say("done_how", { n: R });
  } else {
    var colour = colourOf(st, pass.places[step.from]);
    now.text = spoken(pass, step.from, DATA.names[colour]);
    showDoing(pass, step, st, colour);
  }
  box.dataset.spoken = now.text;
  $("spoken").textContent = now.text;
}

function showDoing(pass, step, st, colour) {
  $("pick-square").replaceChildren(square(colour, " large"));
  $("pick-notch").textContent = notchOf(pass.places[step.from]);
  $("pick-colour").replaceChildren(bdi(DATA.names[colour]));
  $("rest-notch").textContent = notchOf(pass.end);
  var list = $("moves"), k = step.from, used = [];
  list.replaceChildren();
  $("again").hidden = !step.again;
  while (k < pass.ids.length) {
    var code = pass.codes[k], over = [];
    if (used.indexOf(code) < 0) { used.push(code); }
    for (; k < pass.ids.length && pass.codes[k] === code; k++) { over.push(notchOf(pass.cores[k])); }
    var notches = over.length > 5 ? say(over[over.length - 1] > over[0] ? "say_to" : "say_down_to", { a: over[0], b: over[over.length - 1] }) : listed(over);
    list.append(el("li", {}, [wraps(codeSeen(code), colour), el("span", {}, [el("b", {}, say("knot_" + codeSeen(code))), " " + say("over").toLocaleLowerCase(WORDS.lang) + " ", el("b", { "class": "where" }, notches)])]));
  }
  $("how-body").replaceChildren.apply($("how-body"), used.map(function (code) {
    var at = pass.codes.indexOf(code, step.from);
    return knotPictures(code, colour, strandUnder(pass, step.from, at, st));
  }));
}

/* The colour of the strand that a later knot of this pass ties around, as it lies now. */
function strandUnder(pass, from, at, st) {
  var order = st.order.slice();
  for (var k = from; k < at; k++) {
    var i = pass.ids[k] % S;
    if (!(pass.codes[k] & 2)) { var o = order[i]; order[i] = order[i + 1]; order[i + 1] = o; }
  }
  return DATA.order[order[pass.cores[at]]];
}

function showFacts(st) {
  var step = now.step, n = step ? step.pass : PASSES.length, pass = PASSES[Math.min(n, PASSES.length - 1)], parts = [];
  var tied = KNOTS - place.undone.length - (KNOTS - BEFORE[place.at]), row = pass.ids.length && step ? rowOf(pass.ids[step.from]) + 1 : R;
  $("count").textContent = say("step", { n: Math.min(n + 1, PASSES.length), all: PASSES.length });
  if (step) { parts.push(say("part_" + pass.part, { n: pass.round, all: DATA.times })); }
  parts.push(say("rows", { n: row, all: R }));
  if (DATA.repeat < R) { parts.push(say("repeat", { n: Math.floor((row - 1) / DATA.repeat) + 1 })); }
  if (step) {
    var left = timeLeft();
    parts.push(say(left.own ? "left_own" : "left_guess", { time: timeWords(left.seconds) }));
  }
  if (place.changes.length) { parts.push(say("left_notes", { n: place.changes.length })); }
  $("facts").textContent = parts.join(" · ");
  $("bar").value = tied / KNOTS;
  cloth.canvas.setAttribute("aria-label", say("cloth_alt", { n: tied, all: KNOTS }));
  var colours = [];
  for (var s = 0; s < S; s++) { colours.push(DATA.names[colourOf(st, hand.mirrored ? S - 1 - s : s)]); }
  view.setAttribute("aria-label", say("board_alt", { a: DATA.firstNotch, b: DATA.firstNotch + S - 1, colours: listed(colours), n: step ? notchOf(pass.places[step.from]) : "–" }));
  $("back").disabled = !place.trail.length && (!place.at || place.undone.length > 0);
}

function show() {
  var st = play(place), row = place.at ? rowOf(PASSES[Math.min(place.at, PASSES.length) - 1].ids[0]) : 0;
  showStep(st);
  var step = now.step;
  showBoard(st, step ? PASSES[step.pass] : null, step ? step.from : 0);
  showCloth(st, row);
  showFacts(st);
}

function goOn() {
  var step = now.step;
  if (!step) { return; }
  noteStep(PASSES[step.pass].ids.length - step.from, Date.now());
  forward(place);
  keepPlace();
  show();
  readAloud(now.text);
}
function goBack() {
  if (!backward(place)) { return; }
  stepBegun = 0;
  keepPlace();
  show();
  readAloud(now.text);
}
function goTo(at) {
  place.at = Math.max(0, Math.min(PASSES.length, at));
  place.undone = [];
  place.trail = [];
  stepBegun = 0;
  keepPlace();
  show();
}
