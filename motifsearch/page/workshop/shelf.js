// The shelf: wanted bands, with a note, and how far they are.

import { bdi, button, el, field, get, lengthText, t } from "/files/dom.js";
import { change, link, now, show } from "/files/app.js";
import { hanging, lying, lyingRows } from "/files/cards.js";

/** Bands with more rows to a pattern than these lie, as on the page of a class. */
const LYING = 44;
const STATES = ["wanted", "to make", "made"];

/** How the engine is asked for a band of the shelf. @param {any} one */
export function askOf(one) {
  return { of: one.of, run: one.run, ...(one.cut ? { style: one.cut } : {}), ...(one.wristMm ? { wrist_mm: one.wristMm } : one.lengthMm ? { length_mm: one.lengthMm } : {}) };
}

/** @param {any} at */
export async function view(at) {
  const { bands, version } = await get("shelf"), only = at.query.get("only");
  const shown = bands.filter((b) => !only || b.state === only);
  const node = el("section", { class: "page shelf" }, el("div", { class: "wallhead" }, el("h1", {}, t("shelf.title")),
    bands.some((b) => b.state !== "made") ? link(t("shelf.make", { n: bands.filter((b) => b.state !== "made").length }), "/make", { class: "strong button" }) : null),
  bands.length ? el("div", { class: "chips", role: "group", "aria-label": t("shelf.which") }, ["", ...STATES].map((s) => link(t(`shelf.${s || "all"}`), `/shelf${s ? `?only=${encodeURIComponent(s)}` : ""}`, { class: "chip", "aria-current": (only || "") === s ? "true" : null }))) : el("p", { class: "lead" }, t("shelf.empty")),
  el("ul", { class: "wall kept" }, shown.map((one) => item(one, version))));
  return { node, title: t("place.shelf") };
}

function item(one, version) {
  if (!one.design) {
    return el("li", { class: "place" }, el("p", { class: "warn" }, one.problem));
  }
  const query = new URLSearchParams({ of: one.of, ...(one.run ? { run: one.run } : {}), ...(one.wristMm ? { wrist: String(one.wristMm) } : {}), ...(one.cut ? { cut: one.cut } : {}) });
  const state = el("select", { "aria-label": t("shelf.state.of", { title: one.title }), on: { change: async (e) => { if (await change("shelf/note", { key: one.key, values: { state: e.target.value }, version })) { show(); } } } }, STATES.map((s) => el("option", { value: s, selected: s === one.state }, t(`shelf.${s}`))));
  const note = el("textarea", { rows: 2, maxlength: 2000, placeholder: t("shelf.note"), value: one.note, on: { change: async (e) => { if (await change("shelf/note", { key: one.key, values: { note: e.target.value }, version }, t("shelf.noted"))) { show(); } } } });
  return el("li", { class: `place state-${one.state.replace(" ", "-")}`, "data-key": one.key },
    link([lyingRows(one.design) > LYING ? lying(one.design, { rows: lyingRows(one.design), wide: 260 }) : hanging({ ...one.design, key: one.key }, { wide: 104, tall: 230 }), el("span", { class: "title" }, bdi(one.title))], `/band?${query}`, { class: "open" }),
    one.wristMm ? el("span", { class: "soft" }, t("shelf.wrist", { length: lengthText(one.wristMm, now.box.show) })) : null,
    state, field(t("shelf.note.of"), note),
    button(t("shelf.down"), async () => { if (await change("mark", { ask: askOf(one), as: "", version }, t("marked.none", { title: one.title }))) { show(); } }, { class: "quiet", "aria-label": t("shelf.down.of", { title: one.title }) }));
}
