// Elements, words and requests: what every view is made of.
// Text never becomes markup: it is set as text, and names of hers are isolated in their direction.

/** @type {Record<string, string>} */
let words = {};
/** @type {Intl.PluralRules} */
let plural = new Intl.PluralRules("en");

/** Loads the words of the page: the browser's language where there is a file of it, else English. */
export async function loadWords() {
  const known = JSON.parse(byId("data").textContent || "{}").languages;
  const wanted = navigator.languages.map((l) => l.slice(0, 2)).find((l) => known.includes(l)) || "en";
  words = await (await fetch(`/files/words.${wanted}.json`)).json();
  plural = new Intl.PluralRules(wanted);
  document.documentElement.lang = wanted;
}

/**
 * The words under a key; `{name}` stands for a value, `key.one` and `key.other` for numbers.
 * @param {string} key
 * @param {Record<string, any>} [values]
 * @returns {string}
 */
export function t(key, values = {}) {
  let text = words[key];
  if (text === undefined && values.n !== undefined) { text = words[`${key}.${plural.select(values.n)}`] ?? words[`${key}.other`]; }
  if (text === undefined) { return key; }
  return text.replace(/\{(\w+)\}/g, (_, name) => (values[name] === undefined ? "" : String(values[name])));
}

/** The words under a key, or `other` where there are none. @param {string} key @param {string} other */
export function tOr(key, other) { return words[key] === undefined ? other : words[key]; }

/**
 * Makes an element. Attributes: `on` holds listeners, `hidden`, `checked` and the like are properties
 * when they are true or false; children are texts, nodes, or lists of them.
 * @param {string} name
 * @param {Record<string, any>} [attributes]
 * @param {...any} children
 * @returns {any}
 */
export function el(name, attributes = {}, ...children) {
  const node = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (value === undefined || value === null) { continue; }
    if (key === "on") { for (const [event, call] of Object.entries(value)) { node.addEventListener(event, call); } }
    else if (typeof value === "boolean" && !key.startsWith("aria-")) { if (value) { node.setAttribute(key, ""); } }
    else if (key === "value") { /** @type {any} */ (node).value = value; node.setAttribute("value", value); }
    else { node.setAttribute(key, String(value)); }
  }
  add(node, children);
  return node;
}

function add(node, children) {
  for (const child of children) {
    if (Array.isArray(child)) { add(node, child); }
    else if (child !== null && child !== undefined && child !== false) { node.append(child); }
  }
}

/** Puts children in the place of what an element holds. @param {Element} node @param {...any} children */
export function put(node, ...children) {
  node.replaceChildren();
  add(node, children);
}

/** A name of hers, isolated in its own direction. @param {string} text */
export function bdi(text) { return el("bdi", {}, text); }

/** A patch of a thread's colour. @param {string} hex */
export function dot(hex) {
  const node = el("span", { class: "dot", "aria-hidden": "true" });
  node.style.backgroundColor = hex;
  return node;
}

/** A button. @param {any} label @param {(event: Event) => void} call @param {Record<string, any>} [more] */
export function button(label, call, more = {}) {
  return el("button", { type: "button", on: { click: call }, ...more }, label);
}

/** A field with its label above. @param {string} label @param {HTMLElement} control @param {any} [hint] */
export function field(label, control, hint) {
  if (!control.id) { control.id = `f${++fields}`; }
  const help = hint ? el("span", { class: "hint", id: `${control.id}h` }, hint) : null;
  if (help) { control.setAttribute("aria-describedby", help.id); }
  return el("div", { class: "field" }, el("label", { for: control.id }, label), control, help);
}
let fields = 0;

/** What the page always holds. @param {string} id @returns {HTMLElement} */
export function byId(id) {
  return /** @type {HTMLElement} */ (document.getElementById(id));
}

/** Says something to those who do not see it, and shows it for a while. @param {string} text @param {boolean} [bad] */
export function say(text, bad = false) {
  const place = byId("said");
  place.textContent = "";
  clearTimeout(saying);
  requestAnimationFrame(() => {
    place.textContent = text;
    place.classList.toggle("bad", bad);
    place.classList.add("shown");
    saying = setTimeout(() => place.classList.remove("shown"), bad ? 12000 : 5000);
  });
}
let saying = 0;

/** What a maker can be told: the server's own sentence. */
export class Refused extends Error {
  /** @param {any} data @param {number} status */
  constructor(data, status) {
    super(data.error || t("error.none"));
    this.key = data.key || "";
    this.changed = Boolean(data.changed);
    this.status = status;
  }
}

async function answer(response) {
  let data = {};
  try { data = await response.json(); } catch { /* no JSON: the sentence below */ }
  if (!response.ok) { throw new Refused(data, response.status); }
  return data;
}

/** @param {string} name @param {Record<string, string>} [ask] */
export async function get(name, ask = {}) {
  try { return await answer(await fetch(`/get/${name}?${new URLSearchParams(ask)}`)); }
  catch (bad) { throw bad instanceof Refused ? bad : new Refused({ error: t("error.gone") }, 0); }
}

/** @param {string} name @param {any} [ask] */
export async function post(name, ask = {}) {
  try {
    return await answer(await fetch(`/do/${name}`, {
      method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(ask),
    }));
  } catch (bad) { throw bad instanceof Refused ? bad : new Refused({ error: t("error.gone") }, 0); }
}

/** A line of the engine as a sentence. @param {string} text */
export function sentence(text) { return text.slice(0, 1).toUpperCase() + text.slice(1) + (/[.!]$/.test(text) ? "" : "."); }

/** Minutes as people say them. @param {number} minutes */
export function timeText(minutes) {
  const m = Math.round(minutes / 5) * 5 || Math.round(minutes), h = Math.floor(m / 60);
  return h ? (m % 60 ? t("time.both", { h, m: m % 60 }) : t("time.hours", { h })) : t("time.minutes", { m });
}

/** A length of a band or wrist. @param {number} mm @param {string} show */
export function lengthText(mm, show) {
  return show === "imperial" ? t("unit.in", { n: (Math.round(mm / 25.4 * 4) / 4).toString() }) : t("unit.cm", { n: (Math.round(mm) / 10).toString() });
}

/** Metres on hand. @param {number} metres @param {string} show */
export function metresText(metres, show) {
  return show === "imperial" ? t("unit.yd", { n: (Math.floor(metres / 0.9144 * 10) / 10).toString() }) : t("unit.m", { n: (Math.floor(metres * 100 + 1e-6) / 100).toString() });
}
