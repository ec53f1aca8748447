// The box of threads: what there is, put in, changed, cut, and what was cut for which band.

import { bdi, button, dot, el, field, get, metresText, say, t } from "/files/dom.js";
import { change, now, show } from "/files/app.js";
import { pieceLines, woundCard } from "/files/skein.js";

/** @param {any} at */
export async function view(at) {
  const box = now.box, booked = /** @type {any[]} */ (await get("booked").catch(() => []));
  const open = at.query.get("thread");
  const node = el("section", { class: "page threads" },
    el("h1", {}, t("threads.title")),
    el("p", { class: "lead" }, box.threads.length ? t("threads.lead", { n: box.threads.length }) : t("threads.empty")),
    box.problem ? el("p", { class: "warn" }, t("threads.problem"), " ", el("bdi", {}, box.problem)) : null,
    el("ul", { class: "box" }, box.threads.map((one) => el("li", {}, card(one))),
      el("li", {}, button([el("span", { class: "plus", "aria-hidden": "true" }, "+"), t("threads.add")], () => edit(null), { class: "thread new", id: "new-thread" }))),
    box.threads.length || box.version ? null : el("p", {}, button(t("threads.example"), async () => { if (await change("thread/example", {})) { show(); } }, { class: "quiet" })),
    booked.length ? bookings(booked) : null);
  if (open) { setTimeout(() => { const one = box.threads.find((x) => x.name === open); if (one) { edit(one); } }); }
  return { node, title: t("place.threads") };
}

function card(one) {
  const amount = t("threads.amount", { n: one.pieces.length, metres: metresText(one.metres, now.box.show) });
  return button([woundCard(one.hex, one.metres, one.mm), pieceLines(one.hex, one.pieces, one.fullSkein),
    el("strong", {}, bdi(one.name)), el("span", { class: "amount" }, amount)], () => edit(one), { class: one.metres ? "thread" : "thread out-of", "data-thread": one.name });
}

/** The form of one thread, in a dialog. @param {any} one the thread; null for a new one */
function edit(one) {
  const version = now.box.version, unit = one && one.tex === null ? "mm" : "tex";
  const name = el("input", { value: one ? one.name : "", maxlength: 60, required: true, autocomplete: "off" });
  const colour = el("input", { type: "color", value: one ? one.hex : "#b5562f" });
  const size = el("input", { type: "number", min: 0, step: "any", value: one ? (unit === "tex" ? one.tex : one.mm) : 250, required: true });
  const units = el("select", {}, ["tex", "mm", "wraps"].map((u) => el("option", { value: u, selected: u === unit }, t(`thread.unit.${u}`))));
  const pieces = el("input", { value: one ? one.pieces.map(String).join("  ") : "8", inputmode: "decimal", autocomplete: "off" });
  const skein = el("input", { type: "number", min: 0.1, step: "any", value: one && one.skein ? one.skein : "" });
  const price = el("input", { type: "number", min: 0, step: "any", value: one && one.price !== null ? one.price : "" });
  const picture = el("span", { class: "picture" }), wrong = el("p", { class: "warn", role: "alert", hidden: true });
  let last = unit;
  units.addEventListener("change", () => {
    // The same thread told another way: one millimetre across is ten wraps in a centimetre.
    const value = Number(size.value);
    if (last !== "tex" && units.value !== "tex" && value > 0) { size.value = String(Math.round(100000 / value / 10) / 1000); }
    else if (one) { size.value = String({ tex: one.tex ?? "", mm: one.mm, wraps: one.wraps }[units.value]); }
    last = units.value;
  });
  const draw = () => {
    const lengths = numbers(pieces.value) || [];
    picture.replaceChildren(woundCard(colour.value, lengths.reduce((a, b) => a + b, 0), one ? one.mm : 0.6), pieceLines(colour.value, lengths, Number(skein.value) || 8));
  };
  [colour, pieces, skein].forEach((input) => input.addEventListener("input", draw));
  draw();
  const values = () => {
    const lengths = numbers(pieces.value);
    if (!lengths) { throw new Error(t("thread.pieces.wrong")); }
    const out = { name: name.value.trim(), colour: colour.value, pieces_m: lengths, skein_m: skein.value ? Number(skein.value) : null, price_per_skein: price.value ? Number(price.value) : null };
    const same = one && units.value === unit && Number(size.value) === (unit === "tex" ? one.tex : one.mm);
    return same ? out : { ...out, thickness: Number(size.value), unit: units.value };
  };
  const ask = async (what, more, words) => {
    wrong.hidden = true;
    try {
      const { post } = await import("/files/dom.js");
      await post(what, { version, ...more });
      dialog.close();
      const { refresh } = await import("/files/app.js");
      await refresh();
      await show();
      say(words);
      const again = document.querySelector(`[data-thread="${CSS.escape(name.value.trim())}"]`) || document.getElementById("new-thread");
      if (again) { /** @type {HTMLElement} */ (again).focus(); }
    } catch (bad) { wrong.textContent = bad.changed ? t("changed.thread") : bad.message; wrong.hidden = false; }
  };
  const form = el("form", { method: "dialog", on: { submit: (event) => {
    event.preventDefault();
    try {
      if (one) { ask("thread/change", { name: one.name, values: values() }, t("thread.changed", { name: name.value })); }
      else { ask("thread/add", { values: values() }, t("thread.added", { name: name.value })); }
    } catch (bad) { wrong.textContent = bad.message; wrong.hidden = false; }
  } } },
  el("div", { class: "two" }, picture, el("div", {},
    field(t("thread.name"), name), field(t("thread.colour"), colour),
    el("div", { class: "beside" }, field(t("thread.size"), size), field(t("thread.unit"), units)),
    field(t("thread.pieces"), pieces, t("thread.pieces.hint")),
    el("details", { open: Boolean(one && (one.skein || one.price !== null)) }, el("summary", {}, t("thread.more")),
      el("div", { class: "beside" }, field(t("thread.skein"), skein), field(t("thread.price", { currency: now.box.currency }), price))))),
  wrong,
  el("div", { class: "row" }, el("button", { type: "submit", class: "strong" }, one ? t("save") : t("thread.put")),
    one ? button(t("thread.newskein", { metres: metresText(one.fullSkein, now.box.show) }), () => ask("thread/skein", { name: one.name }, t("thread.skein.added", { name: one.name }))) : null,
    one ? button(t("thread.out"), () => ask("thread/remove", { name: one.name }, t("thread.removed", { name: one.name })), { class: "quiet" }) : null,
    button(t("cancel"), () => dialog.close(), { class: "quiet" })));
  const dialog = el("dialog", { "aria-labelledby": "thread-title", on: { close: () => dialog.remove() } },
    el("h2", { id: "thread-title" }, one ? bdi(one.name) : t("threads.add")), form);
  document.body.append(dialog);
  dialog.showModal();
  name.focus();
}

/** The lengths in a text; null where one of them is none. @param {string} text */
function numbers(text) {
  const parts = text.replace(/(\d),(\d)/g, "$1.$2").split(/[\s;+]+/).filter(Boolean).map(Number);
  return parts.every((p) => Number.isFinite(p) && p > 0) ? parts : null;
}

function bookings(booked) {
  return el("section", { class: "booked" }, el("h2", {}, t("booked.title")), el("ul", { class: "lines" }, booked.map((one) => el("li", { class: one.undone ? "undone" : null },
    el("span", {}, bdi(one.title), " ", el("span", { class: "soft" }, t("booked.line", { n: one.bands, metres: metresText(one.metres, now.box.show), day: new Date(one.at).toLocaleDateString() }))),
    one.undone ? el("span", { class: "soft" }, t("booked.undone")) : button(t("booked.undo"), async () => {
      if (await change("unbook", { number: one.number, version: now.box.version }, t("booked.said", { title: one.title }))) { show(); }
    })))));
}

export { dot };
