/* The panel that finds her place: colours from the left to the right, about how many rows, one look. */

var seen = [];

function openFind() {
  seen = [];
  $("find-rows").value = Math.max(0, Math.round(2 * (BEFORE[place.at] - place.undone.length) / (S - 1)));
  drawFind();
  openPanel("find");
}

function drawFind() {
  var notches = $("find-notches");
  notches.replaceChildren();
  for (var s = 0; s < S; s++) {
    var colour = seen[s], said = colour !== undefined;
    var label = say(said ? "find_filled" : "find_empty", { n: DATA.firstNotch + s, colour: said ? DATA.names[colour] : "" });
    var item = el("li", { "class": s === seen.length ? "next" : "" }, [said ? square(colour) : el("span", { "class": "square empty", "aria-hidden": "true" }), el("small", { "aria-hidden": "true" }, String(DATA.firstNotch + s)), el("span", { "class": "unseen" }, label)]);
    notches.append(item);
  }
  $("find-palette").replaceChildren.apply($("find-palette"), DATA.names.map(function (name, c) {
    return el("button", { type: "button", "data-colour": c, disabled: seen.length >= S, onclick: function () { seen.push(c); drawFind(); } }, [square(c), " ", bdi(name)]);
  }));
  $("find-undo").disabled = $("find-clear").disabled = !seen.length;
  found();
}

function goButton(at) {
  return el("button", { type: "button", "class": "strong", "data-go": at + 1, onclick: function () { closePanel(); goTo(at); $("on").focus(); } }, say("find_go", { n: at + 1 }));
}

function found() {
  var out = $("find-out");
  out.replaceChildren();
  out.removeAttribute("data-look");
  if (seen.length < S) { return; }
  var rows = Number($("find-rows").value) || 0, steps = stepsThatLookSo(seen, rows);
  if (!steps.length) {
    out.append(el("p", {}, say("find_none")));
    var swap = swappedStep(seen, rows);
    if (swap) {
      out.append(el("p", {}, say("find_none_swap", { n: Math.min(swap.at + 1, PASSES.length), a: notchOf(swap.a), b: notchOf(swap.b) })), goButton(swap.at));
    }
    return;
  }
  if (steps.length === 1) {
    out.append(el("p", {}, say("find_one", { n: steps[0].at + 1 })), goButton(steps[0].at));
    return;
  }
  var look = lookFor(steps), gap = look.gap >= 0 ? gapOf(look.gap) : { a: 0, b: 0 };
  out.dataset.look = look.kind;
  out.dataset.gap = look.gap >= 0 ? gap.a : "";
  out.append(el("p", {}, say("find_some", { n: steps.length })), el("h3", {}, say("look_" + look.kind, gap)), el("p", { "class": "soft" }, say("find_near")));
  var list = el("ul", { "class": "answers " + look.kind });
  out.append(list);
  addAnswers(list, steps, look, 0);
}

function addAnswers(list, steps, look, from) {
  var most = from + (look.kind === "edge" ? 12 : 40);
  steps.slice(from, most).forEach(function (s) {
    var value = look.value(s), inside;
    if (look.kind === "last") { inside = [square(value), " ", bdi(DATA.names[value])]; }
    else if (look.kind === "count") { inside = say("look_knots", { n: value }); }
    else { inside = edgePicture(s); }
    list.append(el("li", {}, el("button", { type: "button", "data-answer": value, onclick: function () {
      $("find-out").replaceChildren(el("p", {}, say("find_one", { n: s.at + 1 })), goButton(s.at));
    } }, inside)));
  });
  if (most < steps.length) {
    var more = el("li", {}, el("button", { type: "button", "data-more": "1", onclick: function () { more.remove(); addAnswers(list, steps, look, most); } }, say("look_more")));
    list.append(more);
  }
}

function edgePicture(s) {
  var canvas = el("canvas", { "aria-hidden": "true" }), deep = Math.max.apply(null, s.heights);
  var lowestRow = Math.max(0, 2 * deep - 1), st = play({ at: s.at, undone: [], changes: place.changes });
  weavePart(canvas, st, Math.max(6, Math.min(14, Math.floor(150 / S))), Math.max(0, lowestRow - 6), Math.min(R - 1, lowestRow));
  var heights = seenFromLeft(s.heights).join(" ");
  return [canvas, el("span", {}, say("look_edge_alt", { n: s.at + 1, heights: heights }))];
}
