// The wall: bands that hang and get better while one looks, and do not jump.

import { bdi, button, el, get, say, sentence, t } from "/files/dom.js";
import { change, go, link, now, refresh, told } from "/files/app.js";
import { view as classed } from "/files/classed.js";
import { altOf, curveOf, hanging, lying, lyingRows } from "/files/cards.js";

/** @param {any} at */
export async function view(at) {
  return at.rest ? wall(at) : list();
}

function list() {
  return { title: t("place.bands"), node: el("section", { class: "page" }, el("h1", {}, t("bands.title")),
    now.runs.length ? el("ul", { class: "runs" }, now.runs.map((run) => el("li", {}, link([el("strong", {}, bdi(run.title)),
      el("span", { class: "soft" }, run.searching ? t("searching.now") : run.finished ? t("bands.n", { n: run.bands }) : t("run.broken"))], `/bands/${encodeURIComponent(run.name)}`, { class: "run" }))))
      : [el("p", { class: "lead" }, t("bands.none")), el("p", {}, link(t("bands.towishes"), "/wishes", { class: "strong" }))]) };
}

async function wall(at) {
  const name = at.rest, whole = at.query.get("whole") === "1";
  let data = await get("run", { name });
  if (data.kind === "group") { return classed(name, data); }
  const places = [], flat = data.kind === "letters", hung = el("ul", { class: flat ? "wall flat" : whole ? "wall whole" : "wall", "aria-label": t("wall.label") });
  const words = el("p", { class: "progress", id: "progress" }), more = el("div", { class: "howgood" }), doing = el("div", { class: "row" });
  const title = el("h1", {}, bdi(data.title));
  const none = el("p", { class: "lead", hidden: true });
  const views = el("div", { class: "row views" }, flat ? null : link(whole ? t("wall.close") : t("wall.whole"), `/bands/${encodeURIComponent(name)}${whole ? "" : "?whole=1"}`));
  const node = el("section", { class: "page bands" }, el("div", { class: "wallhead" }, title, doing), words, more, none,
    views, hung);

  /** Puts what a place holds now; a band that is looked at waits until one looks away. */
  const put = (n, d) => {
    let here = places[n];
    if (!here) {
      const li = el("li", { class: "place", "data-place": n });
      here = places[n] = { li, d: undefined, waiting: undefined, open: false };
      hung.append(li);
      const look = () => { if (here.waiting !== undefined) { const next = here.waiting; here.waiting = undefined; put(n, next); } };
      li.addEventListener("pointerleave", () => setTimeout(look, 300));
      li.addEventListener("focusout", () => setTimeout(look, 300));
    }
    const same = here.d !== undefined && (here.d && here.d.key) === (d && d.key);
    if (same && (d === null || (here.d.title === d.title && here.d.folder === d.folder && here.open === data.canOpen))) { here.d = d; return; }
    const marked = here.d && now.shelf.keys[here.d.key];
    if (here.d && !same && d !== null && (marked || here.li.matches(":hover") || here.li.matches(":focus-within"))) { here.waiting = d; return; }
    const focus = same && document.activeElement && here.li.contains(document.activeElement) ? document.activeElement.getAttribute("data-do") : null;
    here.d = d;
    here.open = data.canOpen;
    here.li.replaceChildren(...(d ? bandOf(name, d, data, whole) : []));
    here.li.classList.toggle("empty", !d);
    here.li.dataset.key = d ? d.key : "";
    if (focus) { const again = here.li.querySelector(`[data-do="${focus}"]`); if (again) { again.focus(); } }
  };
  const draw = (told) => {
    Object.assign(data, told);
    if (told.wall) { told.wall.forEach((d, n) => put(n, d)); }
    const p = data.progress, live = ["starting", "searching", "stopping"].includes(data.state);
    if (live && data.kind !== "search" && !p) { words.textContent = t(`doing.${data.kind}`); }
    else if (live && !p) { words.textContent = t("search.starting"); }
    else if (p) { words.textContent = t("search.progress", { tried: p.scored.toLocaleString(), kinds: p.kinds.toLocaleString(), good: Math.round(p.best * 100), left: Math.round(p.generation / p.most * 100) }); }
    else { words.textContent = data.scored ? t("search.was", { tried: data.scored.toLocaleString() }) : ""; }
    if (data.log) { words.textContent = `${p ? words.textContent : ""} ${t("search.writing")}`.trim(); }
    if (data.state === "stopping") { words.textContent = t("search.stopping"); }
    if (data.state === "failed") { none.hidden = false; none.textContent = sentence(data.ended.text); none.className = "warn"; }
    const instead = data.state === "failed" && data.kind === "find" ? button(t("wishes.search"), async () => { const done = await change("search/start", { brief: data.brief }); if (done) { await go(`/bands/${encodeURIComponent(done.run)}`); } }, { class: "strong", id: "instead" }) : null;
    more.replaceChildren(...(live && data.curve.length > 1 ? [curveOf(data.curve, t("search.curve", { good: Math.round(data.curve[data.curve.length - 1][1] * 100) }))] : []));
    const again = flat ? `/name?brief=${encodeURIComponent(`${name}/brief.toml`)}` : "/wishes";
    doing.replaceChildren(...(live && ["letters", "find"].includes(data.kind) ? [] : live ? [button(t("search.stop"), stop, { disabled: data.state === "stopping", id: "stop" })]
      : [!flat && (data.canGoOn || data.state === "done") ? button(t("search.go"), goOn, { id: "go-on" }) : null, instead, link(t(flat ? "lying.again" : "wall.again"), data.state === "failed" && flat ? "/name" : again, { class: "quiet" })].filter(Boolean)));
    views.hidden = flat || !hung.children.length;
    node.dataset.state = data.state;
    hung.setAttribute("aria-busy", String(live));
  };
  let events = /** @type {EventSource | null} */ (null);
  const listen = () => {
    if (events) { events.close(); }
    const source = events = new EventSource(`/live?name=${encodeURIComponent(name)}`);
    events.onmessage = async (event) => {
      const told = JSON.parse(event.data), before = data.state;
      draw(told);
      if (!["starting", "searching", "stopping"].includes(told.state)) {
        source.close();
        await refresh().catch(() => null);
        if (told.state === "done" && before !== "done") { Object.assign(data, await get("run", { name })); draw(data); say(t("search.done", { n: told.wall ? told.wall.filter(Boolean).length : data.wall.filter(Boolean).length })); }
      }
    };
    source.addEventListener("none", () => source.close());
  };
  const stop = async () => { await change("search/stop", { run: name }); };
  const goOn = async () => {
    if (await change("search/go", { run: name, more: 100 })) { data.state = "starting"; data.progress = null; draw(data); listen(); }
  };
  hung.classList.toggle("many", data.wall.length > 120);
  draw(data);
  if (["starting", "searching", "stopping"].includes(data.state)) { listen(); }
  // Arrow keys go from band to band, as the eye does.
  hung.addEventListener("keydown", (event) => {
    const way = { ArrowRight: 1, ArrowLeft: -1, ArrowDown: 2, ArrowUp: -2 }[event.key], target = /** @type {HTMLElement} */ (event.target);
    if (!way || !target.matches(".open")) { return; }
    const all = [...hung.querySelectorAll(".open")], here = all.indexOf(target), top = target.getBoundingClientRect().top;
    let next = here + Math.sign(way);
    if (Math.abs(way) === 2) {
      const columns = all.filter((x) => Math.abs(x.getBoundingClientRect().top - top) < 40).length || 1;
      next = here + Math.sign(way) * columns;
    }
    if (all[next]) { event.preventDefault(); all[next].focus(); }
  });
  return { node, title: data.title, leave: () => events && events.close() };
}

/** One band with its marks. @param {string} run @param {any} d @param {any} data @param {boolean} whole */
function bandOf(run, d, data, whole) {
  // What is still being written cannot be opened yet.
  const open = (shown) => (d.folder || data.canOpen ? link(shown, addressOf(run, d), { class: "open", "data-do": "open" }) : el("div", { class: "open" }, shown));
  const words = [el("span", { class: "title" }, bdi(d.title)), el("span", { class: "out" }, altOf(d))];
  if (data.kind === "letters") {
    return [open([lying(d, { rows: lyingRows(d, data.rows), wide: Math.min(760, innerWidth - 60), reads: data.reads }), ...words]), marks(d, { ...askOf(run, d) })];
  }
  const narrow = innerWidth < 500, rows = whole && data.lengthMm ? Math.round(data.lengthMm / 1.26) : undefined;
  return [open([hanging(d, { wide: whole ? 64 : narrow ? 84 : 104, tall: narrow ? 210 : 250, rows, whole }), ...words]),
  marks(d, { ...askOf(run, d) })];
}

/** Where a design of a run is looked at. @param {string} run @param {any} d */
export function addressOf(run, d) {
  if (d.folder) { return `/band?of=${encodeURIComponent(`${run}/${d.folder}`)}`; }
  return `/band?${new URLSearchParams({ d: JSON.stringify(short(d)), run })}`;
}

/** How the engine is asked for a design of a run. @param {string} run @param {any} d */
export function askOf(run, d) { return d.folder ? { of: `${run}/${d.folder}` } : { design: short(d), run }; }

/** What of a design has to stand in an address. @param {any} d */
export function short(d) { return { title: d.title, knots: d.knots, order: d.order, names: d.names, hexes: d.hexes }; }

/** "Wanted" and "not for me". @param {any} d @param {any} ask @param {(as: string) => void} [after] */
export function marks(d, ask, after) {
  const node = el("div", { class: "marks" });
  const draw = () => {
    const state = now.shelf.keys[d.key] ? "wanted" : now.shelf.passed.includes(d.key) ? "passed" : "";
    node.replaceChildren(...["wanted", "passed"].map((as) => button(t(`mark.${as}`), async () => {
      const next = state === as ? "" : as;
      const done = await change("mark", { ask, as: next }, t(`marked.${next || "none"}`, { title: d.title }));
      if (done) { draw(); if (after) { after(next); } const again = node.querySelector(`[data-do="${as}"]`); if (again) { /** @type {HTMLElement} */ (again).focus(); } }
    }, { "aria-pressed": String(state === as), class: as, "data-do": as, "aria-label": t(`mark.${as}.of`, { title: d.title }) })));
    const place = node.closest(".place");
    if (place) { place.classList.toggle("is-wanted", state === "wanted"); place.classList.toggle("is-passed", state === "passed"); }
  };
  draw();
  setTimeout(draw);
  return node;
}

export { go, told };
