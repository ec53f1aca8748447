// The frame: addresses, the way from place to place, steps back, and what is true of the folder now.

import { button, byId, el, get, loadWords, post, say, t } from "/files/dom.js";
import * as threads from "/files/threads.js";
import * as wishes from "/files/wishes.js";
import * as name from "/files/name.js";
import * as classes from "/files/class.js";
import * as bands from "/files/bands.js";
import * as band from "/files/band.js";
import * as shelf from "/files/shelf.js";
import * as make from "/files/make.js";

/** Where one can be: first part of the address to the view. */
const PLACES = { threads, wishes, name, class: classes, bands, band, shelf, make };
const NAMED = ["threads", "wishes", "bands", "shelf", "make"];
/** Places that are parts of another one. */
const PART_OF = { band: "bands", name: "wishes", class: "wishes" };

/** What is true of the folder, as the server said last. */
export let now = /** @type {any} */ (null);
let leave = /** @type {null | (() => void)} */ (null);
let turn = 0;

/** Reads again what is true of the folder. */
export async function refresh() {
  now = await get("state");
  frame();
  return now;
}

/** Goes to an address. @param {string} address @param {{replace?: boolean, edit?: string, quiet?: boolean}} [how] */
export function go(address, how = {}) {
  const here = history.state || { n: 0 };
  history.replaceState({ ...here, y: scrollY }, "");
  const state = { n: how.replace ? here.n : here.n + 1, edit: how.edit || "" };
  if (how.replace) { history.replaceState(here, "", address); }
  else {
    history.pushState(state, "", address);
    sessionStorage.setItem("last", String(state.n));
  }
  if (!how.quiet) { return show(how.edit === undefined); }
  frame();
  return Promise.resolve();
}

/** The address as its place, its rest, and its questions. */
export function place() {
  const [name, ...rest] = location.pathname.slice(1).split("/").map(decodeURIComponent);
  return { name: name in PLACES ? name : "threads", rest: rest.join("/"), query: new URLSearchParams(location.search) };
}

/** Shows what the address says. @param {boolean} fresh whether one came to a new place */
export async function show(fresh = false) {
  const mine = ++turn, at = place(), view = byId("view");
  if (leave) { leave(); leave = null; }
  try {
    if (!now || fresh) { now = await get("state"); }
    const made = await PLACES[at.name].view(at);
    if (mine !== turn) { if (made.leave) { made.leave(); } return; }
    leave = made.leave || null;
    const focused = document.activeElement && document.activeElement.id;
    view.replaceChildren(made.node);
    document.title = `${made.title} · ${t("workshop")}`;
    frame();
    if (fresh) {
      scrollTo(0, (history.state && history.state.y) || 0);
      const head = view.querySelector("h1");
      if (head) { head.tabIndex = -1; head.focus({ preventScroll: true }); }
    } else if (focused && document.getElementById(focused)) { byId(focused).focus({ preventScroll: true }); }
    document.documentElement.dataset.ready = String(mine);
  } catch (bad) {
    if (mine !== turn) { return; }
    view.replaceChildren(el("section", { class: "page" }, el("h1", { tabindex: -1 }, t("error.title")), el("p", { class: "warn" }, bad.message),
      el("p", {}, link(t("error.back"), "/threads"))));
    frame();
    document.documentElement.dataset.ready = String(mine);
    if (!(bad.status >= 0)) { throw bad; }
  }
}

/** A link inside the workshop. @param {any} label @param {string} address @param {Record<string, any>} [more] */
export function link(label, address, more = {}) {
  return el("a", { href: address, on: { click: (event) => {
    if (event.ctrlKey || event.metaKey || event.shiftKey || event.button) { return; }
    event.preventDefault();
    go(address);
  } }, ...more }, label);
}

/** Tells what went wrong; what was changed by another hand is read again. @param {any} bad */
export async function told(bad) {
  say(bad.message, true);
  if (bad.changed) { await refresh(); await show(); }
}

/** Does something that changes a file, and shows what is true then. @param {string} name @param {any} ask @param {string} [words] */
export async function change(name, ask, words) {
  try {
    const done = await post(name, ask);
    await refresh();
    if (words) { say(words); }
    return done;
  } catch (bad) { await told(bad); return null; }
}

async function step(name) {
  const state = history.state || { n: 0 };
  if (name === "undo" && state.edit) { history.back(); return; }
  if (name === "redo" && forward()) { history.forward(); return; }
  const done = await change(name, {});
  if (done) { say(t(`said.${name}`, { what: done.words })); await show(); }
}

function forward() {
  const state = history.state || { n: 0 };
  return ["band", "wishes", "name", "make"].includes(place().name) && Number(sessionStorage.getItem("last") || 0) > state.n;
}

/** Draws the frame: the folder, the places, the steps back. */
function frame() {
  const at = place(), top = byId("top"), state = history.state || { n: 0 };
  const searching = now ? now.runs.filter((r) => r.searching) : [];
  const wanted = now ? Object.keys(now.shelf.keys).length : 0;
  const said = { threads: now && now.box.threads.length, shelf: wanted };
  const undo = state.edit || (now && now.undo), redo = forward() ? t("step") : now && now.redo;
  top.replaceChildren(
    el("p", { class: "folder" }, el("bdi", {}, now ? now.folder : "")),
    el("nav", { "aria-label": t("places") }, el("ul", {}, NAMED.map((name) => {
      const here = (PART_OF[at.name] || at.name) === name;
      const count = said[name] ? el("span", { class: "count" }, String(said[name])) : null;
      const live = name === "bands" && searching.length ? el("span", { class: "live", title: t("searching.now") }, el("span", { class: "out" }, t("searching.now"))) : null;
      return el("li", {}, link([t(`place.${name}`), count, live], `/${name}`, { "aria-current": here ? "page" : null }));
    }))),
    el("div", { class: "steps" },
      button(t("undo"), () => step("undo"), { id: "undo", disabled: !undo, title: undo ? t("undo.what", { what: undo }) : t("undo.none") }),
      button(t("redo"), () => step("redo"), { id: "redo", disabled: !redo, title: redo ? t("redo.what", { what: redo }) : t("redo.none") })));
}

async function begin() {
  history.scrollRestoration = "manual";
  if (!history.state) { history.replaceState({ n: 0, edit: "" }, ""); sessionStorage.setItem("last", "0"); }
  await loadWords();
  const skip = /** @type {HTMLAnchorElement} */ (document.querySelector(".skip"));
  skip.textContent = t("skip");
  skip.addEventListener("click", (event) => { event.preventDefault(); byId("view").focus(); });
  addEventListener("popstate", (event) => { show(!(event.state && event.state.edit) && place().name !== "band"); });
  addEventListener("keydown", (event) => {
    const typing = event.target instanceof HTMLElement && event.target.matches("input, textarea, select");
    if (typing || !(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z") { return; }
    event.preventDefault();
    step(event.shiftKey ? "redo" : "undo");
  });
  // Another window or the command line may have changed a file: look again when one comes back.
  document.addEventListener("visibilitychange", async () => {
    if (document.visibilityState !== "visible" || !now) { return; }
    const before = JSON.stringify([now.box.version, now.shelf.version, now.runs]);
    const typing = document.activeElement && document.activeElement.matches("input, textarea");
    await refresh().catch(() => null);
    if (!typing && before !== JSON.stringify([now.box.version, now.shelf.version, now.runs]) && place().name !== "band") { show(); }
  });
  if (location.pathname === "/") {
    const state = await get("state");
    now = state;
    history.replaceState(history.state, "", state.box.threads.length ? (state.runs.length ? "/bands" : "/wishes") : "/threads");
  }
  await show(true);
}

begin();
