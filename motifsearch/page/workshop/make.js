// Make it: worksheets, cut and book, how many kits, what to buy, what to pack, labels.

import { bdi, button, dot, el, field, get, post, say, t, timeText } from "/files/dom.js";
import { change, go, link, now, show, told } from "/files/app.js";
import { askOf } from "/files/shelf.js";

const PACK = 60;

/** @param {any} at */
export async function view(at) {
  let asks = [], made = false;
  if (at.query.get("q")) { try { asks = JSON.parse(at.query.get("q")); made = true; } catch { asks = []; } }
  if (!made) {
    const { bands } = await get("shelf");
    const making = bands.filter((b) => b.state === "to make" && b.design), wanted = bands.filter((b) => b.state === "wanted" && b.design);
    asks = (making.length ? making : wanted).map(askOf);
  }
  if (!asks.length) {
    return { title: t("place.make"), node: el("section", { class: "page" }, el("h1", {}, t("make.title")), el("p", { class: "lead" }, t("make.none")), el("p", {}, link(t("make.toshelf"), "/shelf", { class: "strong" }))) };
  }
  const number = Math.max(1, Math.min(999, Number(at.query.get("kits") || 1)));
  const all = await post("together", { asks, number }), cautions = all.cautions;
  const child = all.pack.some((p) => parseFloat(p.length) < 120);
  const turn = (changes) => { const next = new URLSearchParams(at.query); Object.entries(changes).forEach(([k, v]) => next.set(k, String(v))); return go(`/make?${next}`, { edit: t("make.kits.edit") }); };
  const warned = el("section", { class: "cautions" }, el("h2", {}, t("make.cautions")), el("ul", {}, cautions.map((c) => el("li", {}, c))));
  const node = el("section", { class: "page make" }, el("h1", {}, asks.length === 1 ? bdi(all.pack[0].title) : t("make.title.n", { n: asks.length })),
    child ? warned : null, sheets(asks, all.pack.some((p) => p.lying)), cut(asks, all), kits(asks, all, number, turn), packing(all), child ? null : warned);
  return { node, title: t("place.make") };
}

/** The worksheets of bands. @param {any[]} asks @param {boolean} lettered whether a mirror would turn letters over */
export function sheets(asks, lettered) {
  const choose = (name, options, chosen) => el("select", { id: `sheet-${name}` }, options.map((o) => el("option", { value: o, selected: o === chosen }, t(`sheet.${name}.${o}`))));
  const kind = choose("kind", ["full", "teaching"], "full"), hand = choose("hand", lettered ? ["right"] : ["right", "left"], "right"), form = choose("form", ["pdf", "txt", "md"], "pdf");
  const paper = choose("paper", ["A4", "Letter"], "A4"), units = choose("units", ["metric", "imperial"], now.box.show);
  // A ZIP holds sixty sheets at most.
  const parts = Array.from({ length: Math.ceil(asks.length / PACK) }, (_, n) => asks.slice(n * PACK, (n + 1) * PACK));
  const open = parts.map((part, n) => el("a", { class: "strong button", target: "_blank", rel: "noopener", id: n ? `worksheet-${n}` : "worksheet" },
    parts.length > 1 ? t("sheet.open.part", { from: n * PACK + 1, to: n * PACK + part.length }) : asks.length === 1 ? t("sheet.open") : t("sheet.open.n", { n: asks.length })));
  const set = () => parts.forEach((part, n) => {
    const q = { asks: part.map((a) => ({ ...a, paper: paper.value, show: units.value })), form: form.value, teaching: kind.value === "teaching", left_handed: hand.value === "left" };
    open[n].href = `/get/sheet?${new URLSearchParams({ q: JSON.stringify(q) })}`;
  });
  [kind, hand, form, paper, units].forEach((x) => x.addEventListener("change", set));
  set();
  return el("section", { class: "panel" }, el("h2", {}, t("make.sheet")), el("div", { class: "beside many" }, field(t("sheet.kind"), kind), field(t("sheet.hand"), hand), field(t("sheet.form"), form), field(t("sheet.paper"), paper), field(t("sheet.units"), units)), lettered ? el("p", { class: "soft" }, t("sheet.hand.letters")) : null, el("p", { class: "row" }, open));
}

function cut(asks, all) {
  const one = asks.length === 1, bands = el("input", { type: "number", min: 1, max: 100, value: 1, id: "bands" });
  const doing = button(one ? t("cut.go") : t("cut.go.n", { n: asks.length }), async () => {
    doing.disabled = true;
    let version = now.box.version, done = 0;
    for (const ask of asks) {
      try { ({ version } = await post("book", { ask, bands: one ? Number(bands.value) : 1, version })); done += 1; }
      catch (bad) { await told(bad); break; }
    }
    if (done) { const { refresh } = await import("/files/app.js"); await refresh(); say(t("cut.done", { n: done })); await show(); }
    doing.disabled = false;
  }, { class: "strong", id: "book" });
  return el("section", { class: "panel" }, el("h2", {}, t("make.cut")), el("p", {}, all.enough ? t("cut.enough") : t("cut.short", { names: all.limiting.join(", ") })), el("p", { class: "soft" }, t("cut.how")),
    el("div", { class: "beside" }, one ? field(t("cut.bands"), bands) : null, doing), el("p", {}, link(t("cut.undo"), "/threads", { class: "quiet" })));
}

/** @param {any[]} asks @param {any} all @param {number} number @param {(how: any) => void} turn */
function kits(asks, all, number, turn) {
  const n = el("input", { type: "number", min: 1, max: 999, value: number, id: "kits", on: { change: (e) => turn({ kits: e.target.value || 1 }) } });
  return el("section", { class: "panel" }, el("h2", {}, t("make.kits")), el("p", {}, t("kits.can", { n: all.kits }), " ", all.limiting.length ? t("kits.limit", { names: all.limiting.join(", ") }) : ""),
    field(t("kits.number"), n),
    el("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": t("kits.buy") }, el("table", {}, el("caption", {}, t("kits.buy.n", { n: number })), el("thead", {}, el("tr", {}, ["thread", "need", "held", "buy", "cost"].map((k) => el("th", { scope: "col" }, t(`buy.${k}`))))),
      el("tbody", {}, all.buy.map((b) => el("tr", {}, el("th", { scope: "row" }, dot(b.hex), " ", bdi(b.colour)), el("td", {}, b.need), el("td", {}, b.held), el("td", {}, b.skeins ? t("buy.skeins", { n: b.skeins, size: b.skein }) : "–"), el("td", {}, b.cost === null ? "?" : b.cost.toFixed(2))))),
      el("tfoot", {}, el("tr", {}, el("th", { scope: "row", colspan: 4 }, t("buy.all")), el("td", {}, all.cost === null ? t("buy.unknown") : `${all.cost.toFixed(2)} ${all.currency}`))))),
    all.each === null ? null : el("p", {}, t("kits.each", { cost: all.each.toFixed(2), currency: all.currency })),
    el("p", {}, el("a", { class: "button quiet", id: "papers", href: `/get/papers?q=${encodeURIComponent(JSON.stringify({ asks, number }))}` }, t("kits.papers"))));
}

function packing(all) {
  const print = button(t("pack.print"), () => window.print(), { class: "quiet" });
  return el("section", { class: "panel packing" }, el("h2", {}, t("make.pack")), el("p", { class: "soft no-print" }, t("pack.how"), " ", print), el("ul", { class: "labels" }, all.pack.map((p) => el("li", {}, el("strong", {}, bdi(p.title)),
    el("span", { class: "soft" }, t("pack.line", { length: p.length, n: p.strands, time: timeText(p.minutes) })),
    el("ul", {}, p.threads.map((x) => el("li", {}, el("span", { class: "box-tick", "aria-hidden": "true" }), dot(x.hex), " ", t("pack.thread", { label: x.label, colour: x.colour, length: x.length })))), el("small", {}, all.cautions[0])))));
}

export { change };
