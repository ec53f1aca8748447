/* The panel for a slip: what must be untied, in order and no more; or leave it, and what then. */

var slip = { kind: "knot", id: -1 };

function openWrong() {
  if (!place.at) { return; }
  slip = { kind: "knot", id: -1 };
  $("wrong-kind-knot").checked = true;
  var gaps = $("wrong-gap"), a = $("swap-a"), b = $("swap-b");
  gaps.replaceChildren();
  for (var s = 0; s < S - 1; s++) {
    gaps.append(el("option", { value: s }, say("wrong_gap_of", { a: DATA.firstNotch + s, b: DATA.firstNotch + s + 1 })));
  }
  [a, b].forEach(function (list, n) {
    list.replaceChildren();
    for (var s = 0; s < S; s++) { list.append(el("option", { value: s, selected: s === n }, String(DATA.firstNotch + s))); }
  });
  $("wrong-row").max = R;
  $("swap-since").max = place.at;
  $("swap-since").value = place.at;
  $("wrong-cloth").append(cloth.canvas, $("mark"));
  $("mark").hidden = true;
  showKind();
  openPanel("wrong");
  $("wrong-cloth").scrollTop = cloth.canvas.offsetHeight;
  var last = PASSES[place.at - 1].ids[0];
  $("wrong-cloth").scrollTop = (rowOf(last) + 6) * cloth.css - $("wrong-cloth").clientHeight;
}

function closeWrong() { $("window").append(cloth.canvas); }

function showKind() {
  slip.kind = $("wrong-kind-knot").checked ? "knot" : "swap";
  $("wrong-knot-part").hidden = slip.kind !== "knot";
  $("wrong-swap-part").hidden = slip.kind === "knot";
  if (slip.kind === "knot") { showSlip(); } else { showSwap(); }
}

/* The knot under a tap: of the nodes around, the nearest one that a knot can lie on. */
function knotAt(x, y) {
  var best = -1, far = Infinity;
  for (var r = Math.max(0, Math.floor(y) - 3); r <= Math.min(R - 1, Math.floor(y) + 1); r++) {
    for (var i = r % 2; i <= S - 2; i += 2) {
      var d = Math.abs((seenAt(i) + seenAt(i + 1) + 1) / 2 - x) + Math.abs(r + 1 - y);
      if (d < far) { far = d; best = idOf(r, i); }
    }
  }
  return best;
}

function tapCloth(event) {
  var box = cloth.canvas.getBoundingClientRect(), pad = Math.max(1, cloth.pitch >> 2) / cloth.pitch;
  var id = knotAt((event.clientX - box.left) / cloth.css - pad, (event.clientY - box.top) / cloth.css);
  if (id >= 0) { pickKnot(id); }
}

function pickKnot(id) {
  slip.id = id;
  var i = leftOf(id), s = Math.min(seenAt(i), seenAt(i + 1));
  $("wrong-row").value = rowOf(id) + 1;
  $("wrong-gap").value = s;
  var mark = $("mark"), pad = Math.max(1, cloth.pitch >> 2) / cloth.pitch;
  mark.hidden = false;
  mark.style.left = (s + 1 + pad) * cloth.css + "px";
  mark.style.top = (rowOf(id) + 1) * cloth.css + "px";
  mark.style.width = mark.style.height = cloth.css * 1.7 + "px";
  showSlip();
}

function fieldKnot() {
  var r = Math.round(Number($("wrong-row").value)) - 1, s = Number($("wrong-gap").value), i = hand.mirrored ? S - 2 - s : s;
  if (!(r >= 0 && r < R)) { return; }
  if ((i - r) % 2) { r += r + 1 < R ? 1 : -1; }
  pickKnot(idOf(r, i));
}

function showSlip() {
  var out = $("wrong-out"), st = now.state;
  out.replaceChildren();
  out.removeAttribute("data-untie");
  if (slip.id < 0) { return; }
  var gap = gapOf(leftOf(slip.id)), row = rowOf(slip.id) + 1, code = codeAt(row - 1, leftOf(slip.id));
  if (st.tying[slip.id] < 0) {
    out.append(el("p", {}, say("wrong_none", { row: row, a: gap.a, b: gap.b })));
    return;
  }
  var right = play({ at: place.at, undone: place.undone, changes: [] });
  out.append(el("p", {}, say("wrong_is", { row: row, a: gap.a, b: gap.b, knot: say("knot_" + codeSeen(code)), colour: DATA.names[DATA.order[right.tying[slip.id]]] })));
  showUntying(out, untieKnot(place, slip.id), "untie_done", null);
  var choice = el("div", { "class": "choices" }), preview = el("div", { id: "leave-preview", "aria-live": "polite" });
  [0, 1, 2, 3].forEach(function (seenCode) {
    var other = codeSeen(seenCode);
    if (other === code) { return; }
    choice.append(el("button", { type: "button", "data-is": DATA.knotNames[seenCode], onclick: function () {
      showLeft(preview, { kind: "knot", id: slip.id, code: other });
    } }, say("knot_" + seenCode)));
  });
  out.append(el("h3", {}, say("leave_title")), el("p", {}, say("leave_is")), choice, preview);
}

function showSwap() {
  var out = $("wrong-out"), a = Number($("swap-a").value), b = Number($("swap-b").value), at = Math.round(Number($("swap-since").value));
  out.replaceChildren();
  out.removeAttribute("data-untie");
  if (a === b) { out.append(el("p", {}, say("swap_same"))); return; }
  at = Math.max(0, Math.min(place.at, at || 0));
  a = seenAt(a);
  b = seenAt(b);
  var ids = untieSwap(place, at, a, b);
  showUntying(out, ids, ids.length ? "untie_swap_done" : "swap_done", { at: at, a: a, b: b });
  var preview = el("div", { id: "leave-preview" });
  out.append(el("h3", {}, say("leave_title")), preview);
  showLeft(preview, { kind: "swap", at: at, a: a, b: b });
}

/* The list, by strand: neighbours in the list that one strand tied stand together. */
function showUntying(out, ids, doneWord, swap) {
  out.dataset.untie = ids.map(function (id) { return rowOf(id) + 1 + ":" + gapOf(leftOf(id)).a; }).join(" ");
  out.append(el("p", { "class": "lead" }, ids.length ? ids.length === 1 && !swap ? say("untie_only") : say("untie", { n: ids.length }) : say("untie_none")));
  var list = el("ol", { "class": "untying" }), k = 0;
  while (k < ids.length) {
    var pass = PASS_OF[ids[k]], gaps = [], colour = DATA.order[now.state.tying[ids[k]]];
    for (; k < ids.length && PASS_OF[ids[k]] === pass && DATA.order[now.state.tying[ids[k]]] === colour; k++) {
      gaps.push(say("untie_gap", gapOf(leftOf(ids[k]))));
    }
    list.append(el("li", {}, [square(colour), " ", say("untie_line", { colour: DATA.names[colour], gaps: gaps.join(", ") })]));
  }
  if (ids.length) { out.append(list); }
  if (ids.length) { out.append(el("p", { "class": "soft" }, say("untie_then"))); }
  out.append(el("button", { type: "button", "class": "strong", id: "untie-done", onclick: function () {
    takeOut(place, ids);
    closePanel();
    stepBegun = 0;
    keepPlace();
    show();
    $("on").focus();
  } }, say(doneWord)));
}

function showLeft(box, change) {
  var changes = place.changes.filter(function (c) { return c.kind !== "knot" || c.id !== change.id; });
  var right = play({ at: 0, undone: [], changes: changes }, true), left = play({ at: 0, undone: [], changes: changes.concat([change]) }, true);
  var off = 0, first = R;
  for (var id = 0; id < R * S; id++) {
    if (right.tying[id] >= 0 && DATA.order[right.tying[id]] !== DATA.order[left.tying[id]]) { off++; first = Math.min(first, rowOf(id)); }
  }
  box.replaceChildren();
  box.dataset.off = off;
  box.append(el("p", {}, off ? say("leave_some", { n: off, all: KNOTS }) : say("leave_same")));
  if (off) {
    var from = Math.max(0, first - 4), to = Math.min(R - 1, from + 40), pair = el("div", { "class": "pair" });
    [["leave_asked", right], ["leave_left", left]].forEach(function (one) {
      var canvas = el("canvas", { role: "img", "aria-label": say(one[0]) });
      weavePart(canvas, one[1], Math.max(5, Math.min(10, Math.floor(150 / S))), from, to);
      pair.append(el("figure", {}, [canvas, el("figcaption", {}, say(one[0]))]));
    });
    box.append(pair);
  }
  box.append(el("button", { type: "button", id: "leave", onclick: function () {
    place.changes = changes.concat([change]);
    closePanel();
    keepPlace();
    show();
    $("on").focus();
  } }, say("leave_do")));
}
