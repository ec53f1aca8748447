/* One design opened, and pinned designs side by side. `ui` is what page.js lends them. */

var MOST_ROWS = 200;

function table(caption, heads, rows) {
  var t = el("table", { "aria-label": caption || "Numbers" });
  if (heads) {
    t.appendChild(el("thead", {}, el("tr", {}, heads.map(function (h) { return el("th", { scope: "col" }, h); }))));
  }
  t.appendChild(el("tbody", {}, rows.map(function (cells) {
    return el("tr", {}, cells.map(function (cell, n) {
      return n === 0 ? el("th", { scope: "row" }, cell) : el("td", {}, cell);
    }));
  })));
  return el("div", {}, caption ? el("p", { "class": "say" }, caption) : null,
    el("div", { "class": "wide", tabindex: "0", role: "group", "aria-label": caption || "Numbers" }, t));
}

function section(id, words, parts) {
  return el("section", { "aria-labelledby": id }, el("h3", { id: id }, words), parts);
}

function sectionOnScreen(id, words, parts) {
  var node = section(id, words, parts);
  node.classList.add("noprint");
  return node;
}

function radios(name, words, options, now, onchange) {
  return el("fieldset", { "class": "switch" }, el("legend", {}, words), options.map(function (o) {
    var input = el("input", { type: "radio", name: name, id: name + "-" + o[0], value: o[0] });
    input.checked = o[0] === now;
    input.addEventListener("change", function () { onchange(o[0]); });
    return el("span", { "class": "choice" }, input, el("label", { "for": name + "-" + o[0] }, o[1]));
  }));
}

/* The pattern file with the colours of now: the format of motifsearch.pattern.files. */
function patternFile(d, look) {
  function quoted(text) { return JSON.stringify(text).replace(/\u007f/g, "\\u007f"); }
  var names = [], hexes = new Map();
  look.names.forEach(function (name, k) {
    var free = name;
    for (var n = 2; hexes.has(free) && hexes.get(free) !== look.hexes[k]; n++) { free = name + " " + n; }
    hexes.set(free, look.hexes[k]);
    names.push(free);
  });
  return ['format = "motifsearch-pattern-1"', "title = " + quoted(look.title), "rows = ["].concat(
    knotRows(d).map(function (row) { return '    "' + row.map(function (c) { return ["rr", "ll", "rl", "lr"][c]; }).join(" ") + '",'; }),
    ["]", "colour_order = ["], d.order.map(function (c) { return "    " + quoted(names[c]) + ","; }), ["]", "", "[colours]"],
    Array.from(hexes.keys()).map(function (name) { return quoted(name) + " = " + quoted(hexes.get(name)); })).join("\n") + "\n";
}

function buildDetail(box, d, ui) {
  var s = ui.state, look, refs = {};
  box.textContent = "";
  refs.title = bdi(d.title);
  refs.mark = el("span", { "class": "mark" }, "recoloured");
  refs.pin = el("button", { type: "button", "class": "pin" }, "Pin");
  refs.pin.addEventListener("click", function () { ui.togglePin(d.id); });
  var before = el("button", { type: "button", "class": "before" }, "Previous");
  var after = el("button", { type: "button", "class": "after" }, "Next");
  var close = el("button", { type: "button", "class": "close" }, "Close");
  before.addEventListener("click", function () { ui.step(-1); });
  after.addEventListener("click", function () { ui.step(1); });
  close.addEventListener("click", function () { ui.close(); });
  box.appendChild(el("div", { "class": "dhead" },
    el("h2", { id: "detail-title", tabindex: "-1" }, refs.title), refs.mark, before, after, refs.pin, close));

  refs.canvas = el("canvas", { role: "img" });
  refs.stage = el("div", { "class": "stage", tabindex: "0", role: "group", "aria-label": "The band, its start at the left; scroll to see all of it" }, refs.canvas);
  refs.alt = el("p", { "class": "say" });
  refs.warn = el("p", { "class": "warn", role: "status" });
  var zooms = radios("zoom", "Size", [["fit", "whole band"], ["life", "life size"], ["near", "close"], ["nearest", "very close"]], ui.zoom, function (v) { ui.set("zoom", v); });
  var sides = radios("face", "Side", [["front", "front"], ["back", "back"]], s.side, function (v) { ui.set("side", v); });
  refs.sight = el("select", { id: "d-sight" }, Object.keys(SIGHTS).map(function (k) { return el("option", { value: k }, SIGHTS[k].words); }));
  refs.sight.addEventListener("change", function () { ui.set("sight", refs.sight.value); });
  refs.paints = el("div", { "class": "paints" });
  refs.lacks = el("div");
  refs.enough = el("p", { "class": "say", role: "status" });
  refs.keep = el("a", { href: "#", download: "recoloured.toml" }, "Keep the pattern file with these colours");
  refs.selects = d.names.map(function (name, k) {
    var pick = el("select", { id: "paint-" + k }, el("option", { value: "" }, "as designed: " + name),
      ui.paints.map(function (t, n) { return el("option", { value: String(n) }, t.name); }));
    pick.addEventListener("change", function () { ui.paint(d.id, k, pick.value === "" ? null : Number(pick.value)); });
    var swatch = el("span");
    refs.paints.appendChild(el("div", {}, el("label", { "for": "paint-" + k }, swatch, " ", bdi(name), " (" + percent(d.share[k]) + ")"), pick));
    return { pick: pick, swatch: swatch };
  });
  var undo = el("button", { type: "button" }, "Back to the colours as designed");
  undo.addEventListener("click", function () { ui.paint(d.id, null, null); });
  refs.paints.appendChild(undo);

  refs.chart = el("div", { "class": "chart", tabindex: "0", role: "group", "aria-label": "Thread chart; scroll to see all of it" });
  refs.rows = el("div");
  refs.strong = el("div");
  refs.weak = el("div");
  refs.cuts = el("div");
  refs.plan = el("div");
  refs.numbers = el("div");
  var links = d.folder ? el("p", { "class": "links" },
    el("a", { href: d.folder + "/board.html" }, "At the board, step by step"),
    el("a", { href: d.folder + "/worksheet.pdf" }, "Worksheet to print (PDF)"),
    el("a", { href: d.folder + "/pattern.toml" }, "Pattern file (TOML)")) : null;

  box.appendChild(el("div", { "class": "dbody" },
    el("section", { "aria-label": "The band" }, refs.stage,
      el("div", { "class": "tools" }, zooms, sides,
        el("p", { "class": "inline" }, el("label", { "for": "d-sight" }, "Seen"), " ", refs.sight)),
      refs.warn, refs.alt, links),
    sectionOnScreen("h-paint", DATA.stash ? "Other colours from my stash" : "Other colours", [
      refs.paints, refs.enough, refs.lacks, el("p", {}, refs.keep)]),
    d.target ? section("h-target", "The wanted motif", [
      el("p", { "class": "say" }, "Left: as it was painted. Right: this design; a framed lozenge marks a knot of another colour, and shows the wanted one."),
      el("img", { "class": "wanted", src: "data:image/png;base64," + d.target, alt: "The wanted motif beside the face of this design." })]) : null,
    el("div", { "class": "pair" },
      section("h-strong", "Where it is strong", refs.strong),
      section("h-weak", "Where it is weak", refs.weak)),
    el("div", { "class": "pair" },
      section("h-cuts", "What to cut", refs.cuts),
      section("h-plan", "From which piece", refs.plan)),
    section("h-chart", "Thread chart", [
      el("p", { "class": "say" }, (d.repeatRows > MOST_ROWS ? "The first " + MOST_ROWS + " of " + d.repeatRows + " rows. " : "") + "Strands at the top, rows at the left. The ribbon that lies on top ties the knot around the other; the numbers below say where each strand stands after these rows."),
      refs.chart, el("details", { "class": "noprint" }, el("summary", {}, "The rows in words"), refs.rows)]),
    el("section", { "aria-labelledby": "h-numbers" }, el("details", { id: "numbers" }, el("summary", {}, el("h3", { id: "h-numbers" }, "All numbers")), refs.numbers)),
    d.notes.length ? section("h-notes", "Notes", points(d.notes, "")) : null));

  function points(lines, none) {
    return lines.length ? el("ul", { "class": "says" }, lines.map(function (l) { return el("li", {}, l); })) : el("p", { "class": "say" }, none);
  }

  function wasteWords() {
    return "Waste (leftovers under " + ui.length(d.plan.shortest) + ", the shortest cut): " + ui.length(d.plan.waste) + " in all" +
      (d.plan.gap === 0 ? "; no other way to cut leaves less." : d.plan.gap ? "; the least possible may be up to " + percent(d.plan.gap) + " less." : ".");
  }

  /* Threads of another thickness make another length: say so. */
  function thicknessWords(painted) {
    return painted.map(function (own, k) {
      var t = own === null || !DATA.stash ? null : DATA.stash[own], was = d.diameters[k];
      return !t || Math.abs(t.diameter / was - 1) < 0.05 ? ""
        : isolated(t.name) + " is " + (t.diameter > was ? "thicker" : "thinner") + " than the thread that these lengths are for: reckon them anew before cutting. ";
    }).join("");
  }

  function refreshBand() {
    look = ui.looksOf(d);
    var dpr = Math.min(window.devicePixelRatio || 1, 2), room = refs.stage.clientWidth - 42;
    var cell = { fit: room / (d.rows + 1), life: d.pitchMm * 96 / 25.4, near: 14, nearest: 28 }[ui.zoom];
    var cap = 15500 / (d.rows + 1), device = Math.max(4, Math.min(cap, Math.round(cell * dpr)));
    device = Math.floor(device);
    drawBand(refs.canvas, d, { rows: d.rows, pitch: device, hexes: look.seen, back: ui.state.side === "back", lying: true });
    ui.fit(refs.canvas, d, cell / device, true);
    ui.shade(refs.canvas, d, look.seen, cell / device, device, true);
    refs.canvas.setAttribute("aria-label", (ui.state.side === "back" ? "The back of the band. " : "") + look.alt);
    refs.alt.textContent = look.alt;
    refs.warn.hidden = !look.warning;
    refs.warn.textContent = look.warning;
  }

  function refreshChart() {
    var rows = Math.min(d.repeatRows || knotRows(d).length, MOST_ROWS);
    refs.chart.textContent = "";
    var picture = threadChart(d, rows, look.seen);
    picture.setAttribute("aria-label", "Thread chart of " + (rows < d.repeatRows ? "the first " : "one repeat, ") + rows + " rows. " + look.alt);
    refs.chart.appendChild(picture);
    if (!refs.rows.firstChild) { refs.rows.append(el("ol", {}, rowWords(d, rows).map(function (line) { return el("li", {}, line); }))); }
  }

  function refreshWords() {
    var says = pointsOf(d, look);
    refs.title.textContent = look.title;
    refs.mark.hidden = !look.painted;
    refs.strong.textContent = refs.weak.textContent = "";
    refs.strong.append(points(says.strong, "Nothing stands out."));
    refs.weak.append(points(says.weak, "Nothing to warn of."));
  }

  /* "Missing: A ochre 192 cm; buy 1 skein of 8 m, 1.20 EUR". */
  function missingWords(missing, lead) {
    var items = shopping(missing), sum = sumText(items);
    return el("div", { "class": "warn" }, lead, el("ul", { "class": "says" }, items.map(function (i) {
      var cuts = missing.filter(function (m) { return m[0] === i.name; }).map(function (m) { return m[1] + " " + ui.cut(m[2]); });
      return el("li", {}, bdi(i.name), ", " + cuts.join(", ") + ": " + buyText(i));
    })), items.length > 1 && sum ? "Together " + sum + "." : null);
  }

  function refreshTables() {
    var names = wantsOf(d, look).map(function (want, n) { return { name: want[0], hex: look.hexes[d.order[d.cuts[n].strands[0]]] }; });
    refs.cuts.textContent = "";
    refs.cuts.appendChild(table(
      ui.fine(d.lengthMm) + " to knot, " + d.rows + " rows. Each length holds what the knots take, the ends and a margin, and is rounded up.",
      ["Cut", "Colour", "Length", "Strands", "Fold", "The knots take"],
      d.cuts.map(function (cut, n) {
        var strands = cut.strands.map(function (v) { return v + 1; });
        var fold = cut.fold === null ? "not folded"
          : ui.cut(cut.fold, true) === ui.cut(cut.length / 2, true) ? "in half"
            : ui.both(cut.fold, cut.length - Math.floor(cut.fold / 5 + 0.5) * 5, ui.cut);
        return [cut.label, el("span", { "class": "ink" }, dot(names[n].hex), bdi(names[n].name)), ui.cut(cut.length), strands.join(" + "), fold,
          cut.need.length === 2 ? ui.both(cut.need[0], cut.need[1], ui.fine) : ui.fine(cut.need[0])];
      })));
    refs.cuts.lastChild.lastChild.classList.add("cuts");
    refs.plan.textContent = "";
    var painted = look.painted, lacks = painted ? missingOf(d, look) : [];
    if (!d.plan) {
      refs.plan.appendChild(el("p", { "class": "say" }, "This run knows no stash, so there is no cutting plan."));
    } else {
      if (painted) { refs.plan.appendChild(el("p", { "class": "say" }, "This plan is for the colours as designed.")); }
      if (d.plan.missing.length) { refs.plan.appendChild(missingWords(d.plan.missing, "Not enough on hand. Missing:")); }
      refs.plan.appendChild(table(wasteWords(), ["Thread", "Piece", "Cut from it", "Left"],
        d.plan.pieces.map(function (p) {
          return [bdi(p.thread), ui.cut(p.length, true), p.cuts.map(function (c) { return c[0] + " " + ui.cut(c[1]); }).join(", "), ui.cut(p.left, true)];
        })));
    }
    refs.enough.textContent = !painted ? "" : (!DATA.stash ? "" : !lacks.length
      ? "The threads on hand are enough for these colours. "
      : "No way was found to cut these colours from the threads on hand. ") +
      thicknessWords(d.names.map(function (_, k) { var n = (ui.state.paint[d.id] || {})[k]; return n === undefined ? null : n; })) +
      "Title, contrast and strong points follow these colours; worksheet, cutting plan and wishes keep the colours as designed.";
    refs.lacks.textContent = "";
    if (lacks.length) { refs.lacks.append(missingWords(lacks, "Missing in these colours:")); }
    refs.keep.hidden = !painted;
    refs.keep.href = painted ? "data:application/toml;charset=utf-8," + encodeURIComponent(patternFile(d, look)) : "#";
    refreshNumbers();
  }

  function refreshNumbers() {
    function stale(key) { return isStale(d, key) ? AS_DESIGNED : ""; }
    refs.numbers.textContent = "";
    refs.numbers.appendChild(table(null, null, [["symmetry", (DATA.frieze[d.frieze] ? DATA.frieze[d.frieze].short + " (" + d.frieze + ")" : d.frieze || "not known") + stale("symmetry")]].concat(
      DATA.constructions[d.construction] ? [["the search started from", DATA.constructions[d.construction]]] : [],
      DATA.sorts.filter(function (o) { return scoreOf(d, o.key) !== null; }).map(function (o) {
        var hint = o.key === "colour.contrast" ? " (smallest difference, CIEDE2000)" : "";
        return [o.words, ui.show(d, o) + stale(o.key) + hint];
      }),
      d.wishes.map(function (w) { return [["wish met: ", bdi(w[0])], percent(w[1]) + (look.painted ? AS_DESIGNED : "")]; }))));
  }

  return {
    design: d,
    refresh: function () {
      var st = ui.state;
      refs.pin.setAttribute("aria-pressed", String(st.pins.indexOf(d.id) >= 0));
      refs.pin.textContent = st.pins.indexOf(d.id) >= 0 ? "Pinned" : "Pin";
      refs.sight.value = st.sight;
      box.querySelectorAll("input[name=zoom]").forEach(function (i) { i.checked = i.value === ui.zoom; });
      box.querySelectorAll("input[name=face]").forEach(function (i) { i.checked = i.value === st.side; });
      look = ui.looksOf(d);
      refs.selects.forEach(function (row, k) {
        var own = (st.paint[d.id] || {})[k];
        row.pick.value = own === undefined ? "" : String(own);
        row.swatch.textContent = "";
        row.swatch.appendChild(dot(look.hexes[k]));
      });
      refreshBand();
      refreshWords();
      refreshChart();
      refreshTables();
      before.disabled = !ui.canStep(-1);
      after.disabled = !ui.canStep(1);
    },
    resize: refreshBand
  };
}

var COMPARE_ROWS = 44;

function buildCompare(box, designs, ui) {
  box.textContent = "";
  var close = el("button", { type: "button", "class": "close" }, "Close");
  close.addEventListener("click", function () { ui.close(); });
  box.appendChild(el("div", { "class": "dhead" }, el("h2", { id: "side-title", tabindex: "-1" }, "Side by side"), close));
  var narrow = window.innerWidth < 480;
  var looks = designs.map(ui.looksOf);
  function row(words, cells) { return el("tr", {}, el("th", { scope: "row" }, words), cells.map(function (c) { return el("td", {}, c); })); }
  var heads = designs.map(function (d, n) {
    var open = el("button", { type: "button" }, "Open"), out = el("button", { type: "button" }, "Take out");
    open.setAttribute("aria-label", "Open " + looks[n].title);
    out.setAttribute("aria-label", "Take out " + looks[n].title);
    open.addEventListener("click", function () { ui.open(d.id); });
    out.addEventListener("click", function () { ui.togglePin(d.id); });
    return el("th", { scope: "col" }, el("span", { "class": "name" }, bdi(looks[n].title), looks[n].painted ? el("span", { "class": "mark" }, "recoloured") : null), el("div", { "class": "links noprint" }, open, out));
  });
  var dpr = Math.min(window.devicePixelRatio || 1, 2);
  var rows = [row("", designs.map(function (d, n) {
    var canvas = el("canvas", { role: "img", "aria-label": looks[n].alt });
    var cell = Math.max(3, Math.floor(Math.min(9, (narrow ? 108 : 400) / (d.order.length + 0.5)) * dpr));
    drawBand(canvas, d, { rows: Math.min(d.rows, COMPARE_ROWS), pitch: cell, hexes: looks[n].seen });
    ui.fit(canvas, d, 1 / dpr, false);
    ui.shade(canvas, d, looks[n].seen, 1 / dpr, cell, false);
    return canvas;
  }))];
  rows.push(row("colours", designs.map(function (d, n) {
    return looks[n].names.map(function (name, k) { return el("div", {}, dot(looks[n].hexes[k]), " ", bdi(name), " " + percent(d.share[k])); });
  })));
  rows.push(row("symmetry", designs.map(function (d) { return DATA.frieze[d.frieze] ? DATA.frieze[d.frieze].short : d.frieze || "not known"; })));
  DATA.sorts.forEach(function (o) {
    var values = designs.map(function (d) { return scoreOf(d, o.key); }), known = values.filter(function (v) { return v !== null; });
    if (!known.length) { return; }
    var best = o.better === "high" ? Math.max.apply(null, known) : Math.min.apply(null, known);
    var differ = Math.max.apply(null, known) > Math.min.apply(null, known);
    rows.push(row(o.words, designs.map(function (d) {
      var v = scoreOf(d, o.key), stale = isStale(d, o.key) ? AS_DESIGNED : "";
      if (v === null) { return "none"; }
      return differ && v === best ? el("span", { "class": "best" }, ui.show(d, o) + " (best)" + stale) : ui.show(d, o) + stale;
    })));
  });
  if (DATA.stash) {
    rows.push(row("to buy", designs.map(function (d, n) {
      var items = shopping(missingOf(d, looks[n]));
      return items.length ? items.map(function (i) { return el("div", {}, bdi(i.name), ": " + buyText(i)); }) : "nothing";
    })));
  }
  ["strong", "weak"].forEach(function (kind) {
    rows.push(row(kind, designs.map(function (d, n) { return el("ul", { "class": "says" }, pointsOf(d, looks[n])[kind].map(function (l) { return el("li", {}, l); })); })));
  });
  var hint = el("p", { "class": "say noprint", id: "side-hint" }, "Scroll sideways for more \u2192");
  var sides = el("div", { "class": "sides", tabindex: "0", role: "group", "aria-label": "Comparison; scroll to see all of it" },
    el("table", {}, el("thead", {}, el("tr", {}, el("td", {}), heads)), el("tbody", {}, rows)));
  function tell() { hint.hidden = sides.scrollWidth - sides.clientWidth < 8; sides.classList.toggle("more", sides.scrollLeft + sides.clientWidth < sides.scrollWidth - 8); }
  sides.addEventListener("scroll", tell);
  var says = DATA.stash ? shoppingFor(designs) : null;
  box.appendChild(el("div", { "class": "dbody" }, hint, sides,
    says ? section("h-shop", says.head, [el("ul", { "class": "says" }, says.lines), el("p", { "class": "say" }, says.note)]) : null));
  new ResizeObserver(tell).observe(sides);
}
