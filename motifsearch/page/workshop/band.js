// One band: looked at, recoloured, mirrored, painted on, and more like it; all reckoned anew by the
// engine. What was changed stands in the address, so every state can be bookmarked, and a step back in
// the browser is a step back here.

import { bdi, button, dot, el, field, lengthText, post, put, say, t, timeText } from "/files/dom.js";
import { go, link, now, told } from "/files/app.js";
import { hanging, lying, lyingRows, paintBand } from "/files/cards.js";
import { marks, short } from "/files/bands.js";
import { rowWords, threadChart, walk } from "/files/cloth.js";

/** How the engine is asked for what an address says. @param {URLSearchParams} query */
export function askFrom(query) {
  const ask = /** @type {any} */ ({});
  if (query.get("of")) { ask.of = query.get("of"); }
  for (const [name, key] of [["d", "design"], ["recolour", "recolour"]]) {
    try { if (query.get(name)) { ask[key] = JSON.parse(query.get(name) || "null"); } } catch { /* an address that was cut off */ }
  }
  if (query.get("run")) { ask.run = query.get("run"); }
  if (query.get("wrist")) { ask.wrist_mm = Number(query.get("wrist")); }
  if (query.get("cut")) { ask.style = query.get("cut"); }
  if (query.get("mirror")) { ask.mirror = true; }
  return ask;
}

/** @param {any} at */
export async function view(at) {
  const query = at.query, ask = askFrom(query);
  const d = await post("look", ask);
  const painted = cellsFrom(query.get("paint")), locked = new Set((query.get("rows") || "").split(",").filter(Boolean).map(Number));
  // Letters that were turned, or repeated after another length, would say something else.
  const mode = d.lying ? "look" : query.get("mode") || "look";

  /** Goes to the same band with something changed. */
  const turn = (changes, words) => {
    const next = new URLSearchParams(query);
    for (const [key, value] of Object.entries(changes)) { if (value === null || value === "") { next.delete(key); } else { next.set(key, String(value)); } }
    return go(`/band?${next}`, { edit: words });
  };
  const withDesign = (design, words) => turn({ d: JSON.stringify(short(design)), of: null, recolour: null, mirror: null, paint: null, run: d.run || null, rows: null }, words);

  const near = el("div", { class: "near", "aria-live": "polite" });
  const side = el("div", { class: "beside-band" });
  /** None where a band is read as it lies: its letters are not painted over. @type {any} */
  const cloth = d.lying ? null : clothOf(d, { mode, painted, locked, inks: inksOf(d), onPaint: (cells) => turn({ paint: cells.map((c) => c.join(".")).join(";"), mode: "paint" }, t("edit.paint")),
    onRows: (rows) => turn({ rows: [...rows].sort((a, b) => a - b).join(","), mode: "rows" }, t("edit.rows")) });

  const modes = el("div", { class: "chips modes", role: "group", "aria-label": t("band.modes") }, ["look", "paint", "rows"].map((m) => button(t(`mode.${m}`), () => turn({ mode: m === "look" ? null : m, paint: m === "paint" ? query.get("paint") : null }, ""), { "aria-pressed": String(m === mode), "data-mode": m })));

  side.append(
    el("div", { class: "row" }, marks(d, ask), link(t("band.make"), `/make?q=${encodeURIComponent(JSON.stringify([ask]))}`, { class: "strong button" })),
    el("p", { class: "look" }, d.look),
    d.toBuy.length ? el("p", { class: "warn" }, t("band.tobuy", { names: d.toBuy.join(", ") })) : d.planned ? el("p", { class: "good" }, t("band.planned")) : d.plan && !d.plan.feasible ? el("p", { class: "warn" }, t("band.short")) : d.plan ? el("p", { class: "good" }, t("band.enough")) : null,
    facts(d));
  if (mode === "paint") { side.prepend(paintPanel()); }
  if (mode === "rows") { side.prepend(rowsPanel()); }
  side.append(threadsPanel(), wristPanel(), saidOf(d), cutsOf(d, (style) => turn({ cut: style }, t("edit.cut"))), chartOf(d));

  function paintPanel() {
    return el("section", { class: "panel" }, el("h2", {}, t("paint.title")), el("p", { class: "soft" }, t("paint.how")), cloth.palette,
      painted.length ? el("p", {}, button(t("paint.clear"), () => turn({ paint: null }, t("edit.clear")), { class: "quiet" })) : null, near);
  }
  function rowsPanel() {
    const keep = { border: el("input", { type: "checkbox" }), colours: el("input", { type: "checkbox" }), symmetry: el("input", { type: "checkbox" }) };
    const go_ = button(t("like.go"), async () => {
      go_.disabled = true;
      say(t("like.wait"));
      try {
        const rows = [...locked].map((r) => r % d.period + 1);
        const { run } = await post("like", { ask, locks: { rows: [...new Set(rows)], border: keep.border.checked, colours: keep.colours.checked, symmetry: keep.symmetry.checked } });
        await go(`/bands/${encodeURIComponent(run)}`);
      } catch (bad) { go_.disabled = false; await told(bad); }
    }, { class: "strong", id: "like" });
    return el("section", { class: "panel" }, el("h2", {}, t("like.title")), el("p", { class: "soft" }, t("like.how", { n: d.period })),
      el("div", { class: "ticks" }, Object.entries(keep).map(([name, input]) => el("label", { class: "tick" }, input, el("span", {}, t(`like.${name}`))))),
      locked.size ? el("p", { class: "soft" }, t("like.rows", { rows: [...locked].sort((a, b) => a - b).map((r) => r + 1).join(", ") })) : null, go_);
  }
  function threadsPanel() {
    return el("section", { class: "panel" }, el("h2", {}, t("band.threads")), el("ul", { class: "swaps" }, d.names.map((name, k) => {
      const choose = el("select", { "aria-label": t("band.swap", { name }), id: `swap-${k}`, on: { change: (e) => {
        const to = e.target.value, old = ask.recolour || {}, first = Object.keys(old).find((o) => old[o] === name) || name;
        // Where the new thread is in the band already, the two change places.
        const next = { ...old, [first]: to };
        if (d.names.includes(to)) { const other = Object.keys(old).find((o) => old[o] === to) || to; next[other] = name; }
        for (const o of Object.keys(next)) { if (next[o] === o) { delete next[o]; } }
        turn({ recolour: Object.keys(next).length ? JSON.stringify(next) : null }, t("edit.recolour", { name: to }));
      } } }, [...new Set([name, ...now.box.threads.map((x) => x.name)])].map((n) => el("option", { value: n, selected: n === name }, n)));
      return el("li", {}, dot(d.hexes[k]), choose, el("span", { class: "soft" }, t("band.share", { n: Math.round((d.share[k] || 0) * 100) })));
    })), d.lying ? null : el("div", { class: "row" }, button(t("band.mirror"), () => turn({ mirror: query.get("mirror") ? null : "1" }, t("edit.mirror")), { "aria-pressed": String(Boolean(query.get("mirror"))), id: "mirror" })));
  }
  function wristPanel() {
    if (d.lying) {
      return el("section", { class: "panel" }, el("h2", {}, t("band.wrist")), el("p", {}, t("band.length", { length: lengthText(d.lengthMm, d.show) })), el("p", { class: "soft" }, t("lying.how")),
        d.text && d.run ? el("p", {}, link(t("lying.again"), `/name?brief=${encodeURIComponent(`${d.run}/brief.toml`)}`)) : null, d.notes.map((one) => el("p", { class: "soft" }, one)));
    }
    const wrist = el("input", { type: "number", min: 60, max: 400, step: 1, value: Math.round(d.lengthMm - d.ease), id: "wrist", on: { change: (e) => { if (e.target.value) { turn({ wrist: Math.round(Number(e.target.value)) }, t("edit.wrist", { mm: e.target.value })); } } } });
    return el("section", { class: "panel" }, el("h2", {}, t("band.wrist")), field(t("ask.wrist.mm"), wrist, t("band.length", { length: lengthText(d.lengthMm, d.show) })));
  }

  const node = el("section", { class: "page band" },
    el("div", { class: "wallhead" }, el("h1", {}, bdi(d.title)), d.wall ? link(t("band.towall"), `/bands/${encodeURIComponent(d.wall)}`, { class: "quiet" }) : null),
    d.lying ? el("div", { class: "on-the-table" }, lying(d, { rows: lyingRows(d, d.rows), wide: Math.min(1100, innerWidth - 40), reads: d.reads, alt: d.alt }), side)
      : el("div", { class: "band-and-side" }, el("div", { class: "on-the-rod" }, modes, cloth.node), side));
  if (mode === "paint" && painted.length) { answer(); }

  async function answer() {
    near.replaceChildren(el("p", { class: "soft" }, t("paint.asking")));
    let found;
    try { found = await post("paint", { ask, cells: painted.map(([r, k, c]) => [Number(r), Number(k), inksOf(d)[Number(c)].name]) }); }
    catch (bad) { near.replaceChildren(el("p", { class: "warn" }, bad.message)); return; }
    put(near,
      found.near.length ? el("p", {}, found.near[0].missed.length ? t("paint.nearly", { n: found.near[0].missed.length }) : t("paint.all")) : el("p", { class: "warn" }, t("paint.none")),
      found.why ? el("p", { class: "soft" }, t("paint.why")) : null,
      el("ul", { class: "choices" }, found.near.map((one, n) => el("li", {}, button([hanging({ ...one.design, alt: "" }, { wide: 84, tall: 190 }),
        el("span", {}, one.missed.length ? t("paint.missed", { n: one.missed.length }) : t("paint.hit")), el("span", { class: "soft" }, one.moved ? t("paint.moved", { n: one.moved }) : t("paint.moved.none"))],
      () => withDesign({ ...one.design, title: d.title }, t("edit.take")), { class: "choice", "data-near": n })))));
    cloth.miss(found.near.length ? found.near[0].missed : []);
    near.dataset.done = "1";
  }
  return { node, title: d.title };
}

/** The threads that can be painted with: the band's own first. */
function inksOf(d) {
  const own = d.names.map((name, k) => ({ name, hex: d.hexes[k] }));
  return [...own, ...now.box.threads.filter((x) => !d.names.includes(x.name)).map((x) => ({ name: x.name, hex: x.hex }))];
}

function cellsFrom(text) {
  return (text || "").split(";").map((c) => c.split(".")).filter((c) => c.length === 3 && c.every((n) => /^\d+$/.test(n)));
}

/**
 * The cloth, to look at, to paint on, or to choose rows of.
 * @param {any} d @param {any} how
 */
function clothOf(d, how) {
  const strands = d.order.length, rows = Math.min(Math.max(24, Math.min(d.rowsOfRepeat, 64)), Math.max(d.rows, 8)), round = d.rowsOfRepeat;
  const ratio = Math.min(2, window.devicePixelRatio || 1), room = Math.min(340, innerWidth - 120);
  const pitch = Math.max(8, Math.min(36, Math.floor(room * ratio / (strands + 1)))), pad = Math.max(1, pitch >> 2);
  const canvas = el("canvas", { "aria-hidden": "true" });
  paintBand(canvas, d, { ratio, pitch, rows });
  const NS = "http://www.w3.org/2000/svg", over = document.createElementNS(NS, "svg");
  over.setAttribute("viewBox", `0 0 ${canvas.width} ${canvas.height}`);
  over.setAttribute("class", "over");
  over.setAttribute("aria-hidden", "true");
  const played = walk({ ...d, walked: null }, rows), centre = (r, k) => [((r % 2) + 2 * k + 1) * pitch + pad, (r + 1) * pitch];
  const shape = (r, k, name, grow = 1) => {
    const [x, y] = centre(r, k), h = pitch * 0.92 * grow, node = document.createElementNS(NS, "path");
    node.setAttribute("d", `M${x} ${y - h}L${x + h} ${y}L${x} ${y + h}L${x - h} ${y}Z`);
    node.setAttribute("class", name);
    over.append(node);
    return node;
  };
  const numbers = el("ol", { class: "rownumbers", "aria-hidden": "true" });
  for (let r = 0; r < rows; r++) { const li = el("li", {}, String(r % round + 1)); li.style.top = `${(r + 1) * pitch / ratio}px`; if (r >= round) { li.className = "again"; } numbers.append(li); }
  let ink = Math.min(Number(sessionStorage.getItem("ink") || 0), how.inks.length - 1), cursor = [0, 0];
  const slots = (r) => Math.floor((strands - (r % 2)) / 2);
  const colourAt = (r, k) => {
    const done = how.painted.find((c) => Number(c[0]) === r % round && Number(c[1]) === k);
    if (done) { return how.inks[Number(done[2])]; }
    const knot = played.knots.slice(played.starts[r], played.starts[r + 1])[k];
    return how.inks[d.order[knot[3]]];
  };
  const frame = el("div", { class: `frame ${how.mode}` }, canvas, over);
  const spoken = el("span", { class: "out", "aria-live": "assertive" });
  const draw = () => {
    over.replaceChildren();
    for (let r = 0; r < rows; r++) {
      for (const [pr, pk, pc] of how.painted) {
        if (Number(pr) === r % round && Number(pk) < slots(r)) { const node = shape(r, Number(pk), "painted", 0.82); node.setAttribute("fill", how.inks[Number(pc)] ? how.inks[Number(pc)].hex : "none"); }
      }
      if (how.mode === "rows" && how.locked.has(r % round)) { for (let k = 0; k < slots(r); k++) { shape(r, k, "locked"); } }
    }
    if (how.mode !== "look" && frame.matches(":focus-visible")) { if (how.mode === "paint") { shape(cursor[0], cursor[1], "cursor"); } else { for (let k = 0; k < slots(cursor[0]); k++) { shape(cursor[0], k, "cursor"); } } }
    missed.forEach(([r, k]) => { for (let at = r; at < rows; at += round) { shape(at, k, "missed", 0.7); } });
  };
  let missed = /** @type {number[][]} */ ([]);
  const hit = (event) => {
    const box = canvas.getBoundingClientRect(), u = ((event.clientX - box.left) / box.width * canvas.width - pad) / pitch - 1, v = (event.clientY - box.top) / box.height * canvas.height / pitch - 1;
    let best = /** @type {number[] | null} */ (null), far = 1.6;
    for (let r = Math.max(0, Math.floor(v) - 1); r <= Math.min(rows - 1, Math.ceil(v) + 1); r++) {
      for (let k = 0; k < slots(r); k++) { const away = Math.abs(u - ((r % 2) + 2 * k)) + Math.abs(v - r); if (away < far) { far = away; best = [r, k]; } }
    }
    return best;
  };
  const stroke = /** @type {Map<string, string[]>} */ (new Map());
  const touch = (cell) => {
    const [r, k] = [cell[0] % round, cell[1]];
    stroke.set(`${r}.${k}`, [String(r), String(k), String(ink)]);
    const node = shape(cell[0], cell[1], "painted", 0.82);
    node.setAttribute("fill", how.inks[ink].hex);
  };
  const commit = () => {
    if (!stroke.size) { return; }
    const kept = how.painted.filter((c) => !stroke.has(`${c[0]}.${c[1]}`));
    how.onPaint([...kept, ...stroke.values()]);
  };
  if (how.mode !== "look") {
    frame.tabIndex = 0;
    frame.id = "cloth";
    frame.setAttribute("role", "application");
    frame.setAttribute("aria-label", t(how.mode === "paint" ? "paint.label" : "like.label"));
    let down = false, from = 0;
    const begun = new Set();
    frame.addEventListener("pointerdown", (event) => {
      const cell = hit(event);
      if (!cell) { return; }
      event.preventDefault();
      down = true;
      frame.setPointerCapture(event.pointerId);
      if (how.mode === "paint") { touch(cell); } else { from = cell[0]; begun.clear(); begun.add(cell[0] % round); shape(cell[0], 0, "locked"); }
    });
    frame.addEventListener("pointermove", (event) => {
      const cell = down && hit(event);
      if (!cell) { return; }
      if (how.mode === "paint") { touch(cell); }
      else { begun.clear(); for (let r = Math.min(from, cell[0]); r <= Math.max(from, cell[0]); r++) { begun.add(r % round); for (let k = 0; k < slots(r); k++) { shape(r, k, "locked"); } } }
    });
    frame.addEventListener("pointerup", () => {
      if (!down) { return; }
      down = false;
      if (how.mode === "paint") { commit(); return; }
      const rows_ = new Set(how.locked), off = [...begun].every((r) => rows_.has(r));
      begun.forEach((r) => (off ? rows_.delete(r) : rows_.add(r)));
      how.onRows(rows_);
    });
    frame.addEventListener("focus", draw);
    frame.addEventListener("blur", draw);
    frame.addEventListener("keydown", (event) => {
      const step = { ArrowUp: [-1, 0], ArrowDown: [1, 0], ArrowLeft: [0, -1], ArrowRight: [0, 1] }[event.key];
      if (step) {
        event.preventDefault();
        const r = Math.min(rows - 1, Math.max(0, cursor[0] + step[0]));
        cursor = [r, Math.min(slots(r) - 1, Math.max(0, cursor[1] + step[1]))];
        sessionStorage.setItem("cursor", cursor.join("."));
        draw();
        spoken.textContent = how.mode === "paint" ? t("paint.at", { row: r % round + 1, knot: cursor[1] + 1, name: colourAt(r, cursor[1]).name }) : t("like.at", { row: r % round + 1 });
      } else if (event.key === " " || event.key === "Enter") {
        event.preventDefault();
        if (how.mode === "paint") { touch(cursor); commit(); }
        else { const rows_ = new Set(how.locked), r = cursor[0] % round; if (rows_.has(r)) { rows_.delete(r); } else { rows_.add(r); } how.onRows(rows_); }
      } else if (how.mode === "paint" && /^[1-9]$/.test(event.key) && Number(event.key) <= how.inks.length) { choose(Number(event.key) - 1); spoken.textContent = how.inks[ink].name; }
      else if (how.mode === "paint" && (event.key === "Delete" || event.key === "Backspace")) {
        event.preventDefault();
        how.onPaint(how.painted.filter((c) => !(Number(c[0]) === cursor[0] % round && Number(c[1]) === cursor[1])));
      }
    });
    const was = (sessionStorage.getItem("cursor") || "0.0").split(".").map(Number);
    if (was[0] < rows && was[1] < slots(was[0])) { cursor = was; }
  }
  const palette = el("div", { class: "chips", role: "group", "aria-label": t("paint.with") });
  const choose = (n) => {
    ink = n;
    sessionStorage.setItem("ink", String(n));
    [...palette.children].forEach((one, k) => one.setAttribute("aria-pressed", String(k === n)));
  };
  how.inks.forEach((one, n) => palette.append(button([dot(one.hex), bdi(one.name)], () => choose(n), { "aria-pressed": String(n === ink), "data-ink": one.name })));
  draw();
  const node = el("div", { class: "cloth" }, el("p", { class: "out" }, d.alt), numbers, frame, spoken);
  return { node, palette, miss: (cells) => { missed = cells; draw(); } };
}

function facts(d) {
  const s = d.scores, list = [
    [t("fact.time"), timeText(d.minutes)],
    [t("fact.strands"), String(d.order.length)],
    [t("fact.thread"), t("unit.m", { n: (d.totalMm / 1000).toFixed(1) })],
    [t("fact.repeat"), t("fact.repeat.value", { rows: d.repeatRows, length: lengthText(d.scores.repeat_mm, d.show) })],
    [t("fact.even"), t("percent", { n: Math.round(s["thread.evenness"] * 100) })],
    [t("fact.flat"), t("percent", { n: Math.round(s.flatness * 100) })],
  ];
  return el("dl", { class: "facts" }, list.map(([name, value]) => el("div", {}, el("dt", {}, name), el("dd", {}, value))));
}

function saidOf(d) {
  if (!d.strong.length && !d.weak.length) { return null; }
  return el("section", { class: "panel" }, el("h2", {}, t("band.said")), el("ul", { class: "said" }, d.strong.map((x) => el("li", { class: "strength" }, x)), d.weak.map((x) => el("li", { class: "weakness" }, x))));
}

/** @param {any} d @param {(style: string) => void} choose */
function cutsOf(d, choose) {
  const c = d.cutting, costs = { length: c.length, more: c.more, n: Math.round(c.share * 1000) / 10 };
  // The threads of a class are planned together: there is nothing to choose for one of them.
  const how = d.planned ? null : [el("div", { class: "chips", role: "group", "aria-label": t("cut.how.label"), id: "cut-style" }, ["auto", "simple", "exact"].map((style) => button(t(`cut.style.${style}`), () => choose(style), { "aria-pressed": String(c.style === style), "data-style": style }))),
    el("p", { class: "soft", id: "cut-cost" }, t(c.simple ? (c.share ? "cut.simple" : "cut.simple.free") : c.share ? "cut.exact" : "cut.exact.free", costs), " ", c.simple || c.simpleFits !== false ? "" : t("cut.exact.lacks"))];
  return el("section", { class: "panel" }, el("h2", {}, t("band.cuts")), how, el("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": t("band.cuts") }, el("table", {}, el("thead", {}, el("tr", {}, ["label", "thread", "length", "strands"].map((k) => el("th", { scope: "col" }, t(`cut.${k}`))))),
    el("tbody", {}, d.cuts.map((c) => el("tr", {}, el("th", { scope: "row" }, c.label), el("td", {}, dot(d.hexes[d.names.indexOf(c.colour)]), " ", bdi(c.colour)), el("td", {}, lengthText(Math.ceil(c.length / 10) * 10, d.show)), el("td", {}, c.strands.map((s) => s + 1).join(", "))))))),
  d.plan ? el("details", {}, el("summary", {}, t("band.plan")), el("ul", { class: "plan" }, d.plan.pieces.map((p) => el("li", {}, t("plan.line", { name: p.thread, piece: (p.length / 1000).toFixed(2), cuts: p.cuts.map(([label]) => label).join(" + "), left: (p.left / 1000).toFixed(2) }))),
    d.plan.missing.map(([name, label, mm]) => el("li", { class: "warn" }, t("plan.missing", { name, label, length: (mm / 1000).toFixed(2) }))))) : null);
}

function chartOf(d) {
  const hold = el("div", { class: "scroll chart", tabindex: 0, role: "region", "aria-label": t("band.chart") });
  const rows = Math.min(40, d.rowsOfRepeat);
  const details = el("details", { on: { toggle: () => {
    if (!details.open || hold.firstChild) { return; }
    const picture = threadChart({ ...d, rows, walked: null }, rows, d.hexes);
    picture.setAttribute("aria-label", t("band.chart.alt", { n: rows }));
    hold.append(picture, el("ol", { class: "out" }, rowWords(d, rows).map((x) => el("li", {}, x))));
  } } }, el("summary", {}, t("band.chart")), hold);
  return el("section", { class: "panel" }, details);
}
