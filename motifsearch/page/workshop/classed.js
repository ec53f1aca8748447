// The bands of a class: who gets which, one cutting list, and all of it booked in one step.

import { bdi, button, dot, el, get, say, sentence, t } from "/files/dom.js";
import { change, go, link, now, refresh, show, told } from "/files/app.js";
import { hanging, lying, lyingRows } from "/files/cards.js";
import { sheets } from "/files/make.js";

const LIVE = ["starting", "searching", "stopping"];

/** The page of a group's run: while it is planned, and then. @param {string} run @param {any} data */
export async function view(run, data) {
  const title = el("h1", {}, bdi(data.title)), words = el("p", { class: "progress", id: "progress" }), spoken = el("p", { class: "out", role: "status" }), hung = el("ul", { class: "wall class-wall", "aria-label": t("wall.label") });
  const node = el("section", { class: "page bands classed", "data-state": data.state });
  let events = /** @type {EventSource|null} */ (null), shown = -1;
  const back = () => link(t("class.change"), data.file ? `/class/${encodeURIComponent(data.file)}` : "/class", { class: "quiet" });
  const working = el("div", { class: "working", "aria-hidden": "true" }, el("i"), el("i"), el("i"), el("i"), el("i"));
  const draw = () => {
    node.dataset.state = data.state;
    const p = data.progress, stop = button(t("class.stop"), async () => { await change("search/stop", { run }); }, { id: "stop", disabled: data.state === "stopping" || Boolean(data.log) });
    if (data.state === "failed") { node.replaceChildren(title, el("p", { class: "warn" }, sentence(data.ended.text)), el("p", {}, back())); return; }
    // What it is doing, in the engine's own words, or how far the search is.
    words.textContent = data.state === "stopping" ? t("class.stopping") : data.log ? sentence(data.log) : p ? t("class.progress", { tried: p.scored.toLocaleString(), left: Math.round(p.generation / p.most * 100) }) : t("doing.group");
    // Numbers that change are seen; what it is at now is said once.
    const phase = data.state === "stopping" ? t("class.stopping") : data.log && !/\d/.test(data.log) ? sentence(data.log) : data.log ? t("search.writing") : t("doing.group");
    if (spoken.textContent !== phase) { spoken.textContent = phase; }
    if (data.wall && data.wallRevision !== shown) {
      shown = data.wallRevision;
      // First the patterns that were found, then those that were chosen, each with a name.
      hung.replaceChildren(...data.wall.filter(Boolean).map((d) => { const [name, ...rest] = d.title.split(": "); return el("li", { class: "place" }, hanging(d, { wide: 84, tall: 190 }), rest.length ? el("strong", { class: "whose" }, bdi(name)) : null, el("span", { class: "title" }, bdi(rest.length ? rest.join(": ") : name))); }));
    }
    if (!node.contains(words)) { node.replaceChildren(el("div", { class: "wallhead" }, title, el("div", { class: "row" }, stop)), working, words, spoken, hung); }
    else { node.querySelector(".row").replaceChildren(stop); }
  };
  const done = async () => { node.replaceChildren(...result(run, await get("classed", { run }), data).filter(Boolean)); node.dataset.state = "done"; };
  if (LIVE.includes(data.state)) {
    draw();
    const source = events = new EventSource(`/live?name=${encodeURIComponent(run)}`);
    events.onmessage = async (event) => {
      const told_ = JSON.parse(event.data);
      Object.assign(data, told_);
      if (told_.state !== "done") { draw(); }
      if (LIVE.includes(told_.state)) { return; }
      source.close();
      await refresh().catch(() => null);
      if (told_.state === "done") { await done().catch(told); say(t("class.done")); }
    };
    source.addEventListener("none", () => source.close());
  } else if (data.state === "failed") { draw(); } else { await done(); }
  return { node, title: data.title, leave: () => events && events.close() };
}

/** @param {string} run @param {any} d @param {any} data */
function result(run, d, data) {
  const file = d.file || data.file, asks = d.bands.map((one) => ({ of: `${run}/${one.folder}` })), full = d.possible >= d.wanted;
  const sum = [t(full ? "class.all" : "class.some", { n: d.possible, wanted: d.wanted })];
  if (!full) { sum.push(d.possible >= d.bound ? t("class.most") : t("class.bound", { n: d.bound })); }
  if (d.possible >= d.bound && d.gap === 0) { sum.push(t("class.best")); }
  return [el("div", { class: "wallhead" }, el("h1", {}, bdi(d.title)), el("div", { class: "row no-print" }, button(t("class.print"), () => window.print(), { id: "print" }), file ? link(t("class.change"), `/class/${encodeURIComponent(file)}`, { class: "quiet" }) : null)),
    el("p", { class: "lead", id: "sum" }, sum.join(" ")),
    d.without.length ? el("div", { class: "warn", id: "without" }, el("p", {}, t("class.without", { names: d.without.join(", ") })),
      d.buy.length ? [el("p", {}, t("class.buy")), el("ul", { class: "buy" }, d.buy.map((b) => el("li", {}, dot(b.hex), " ", bdi(b.colour), ", ", t("buy.skeins", { n: b.skeins, size: b.skein }))))] : el("p", {}, t("class.none"))) : null,
    el("ul", { class: "wall class-wall", "aria-label": t("wall.label") }, d.bands.map((one) => el("li", { class: one.lying ? "place lies" : "place", "data-name": one.name },
      link([one.lying ? lying(one, { rows: lyingRows(one), wide: Math.min(420, innerWidth - 60) }) : hanging(one, { wide: 84, tall: 190 }), el("strong", { class: "whose" }, bdi(one.name)), el("span", { class: "title" }, bdi(one.title)), el("span", { class: "soft" }, t("class.line", { length: one.length, level: t(`level.${one.level}`) }))],
        `/band?of=${encodeURIComponent(`${run}/${one.folder}`)}`, { class: "open", "data-do": "open" })))),
    cutting(run, d, file), sheets(asks, d.bands.some((one) => one.lying)), bags(d),
    el("section", { class: "cautions" }, el("h2", {}, t("make.cautions")), el("ul", {}, d.cautions.map((c) => el("li", {}, c))))];
}

function cutting(run, d, file) {
  const book = button(t("class.book", { n: d.bands.length }), async () => {
    book.disabled = true;
    if (await change("class/book", { run, version: now.box.version }, t("class.booked"))) { await show(); } else { book.disabled = false; }
  }, { class: "strong", id: "book" });
  const undo = button(t("booked.undo"), async () => { if (await change("unbook", { number: d.booked, version: now.box.version }, t("booked.said", { title: d.title }))) { await show(); } }, { id: "unbook" });
  const act = d.booked !== null ? el("p", { class: "row", id: "is-booked" }, el("span", { class: "good" }, t("class.isbooked")), undo)
    : d.fits ? [el("p", { class: "soft" }, t("cut.how")), el("p", {}, book)]
      : [el("p", { class: "warn", id: "changed" }, t("class.boxchanged")), file ? el("p", {}, link(t("class.change"), `/class/${encodeURIComponent(file)}`, { class: "quiet" })) : null];
  return el("section", { class: "panel cutting" }, el("h2", {}, t("class.cutting")), el("div", { class: "no-print" }, act),
    el("ol", { class: "cutlist" }, d.pieces.map((p) => el("li", {}, el("h3", {}, dot(p.hex), " ", t("class.take", { colour: p.colour, length: p.length })),
      el("ul", {}, p.cuts.map((c) => el("li", {}, el("span", { class: "box-tick", "aria-hidden": "true" }), el("span", {}, el("strong", {}, c.length), " ", t("class.for", { name: c.name, label: c.label }))))),
      p.left ? el("p", { class: "soft" }, t(p.kept ? "class.left" : "class.waste", { length: p.left })) : null))));
}

function bags(d) {
  return el("section", { class: "panel packing" }, el("h2", {}, t("class.bags")), el("p", { class: "soft no-print" }, t("pack.how")), el("ul", { class: "labels" }, d.bands.map((one) => el("li", {}, el("strong", {}, bdi(one.name)), el("span", { class: "soft" }, bdi(one.title), ", ", one.length),
    el("ul", {}, one.cuts.map((c) => el("li", {}, el("span", { class: "box-tick", "aria-hidden": "true" }), dot(c.hex), " ", t("class.thread", { label: c.label, colour: c.colour, length: c.length, strands: c.strands.join(" + ") }))))))));
}

export { go };
