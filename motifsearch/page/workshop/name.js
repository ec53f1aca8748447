// A name in a band: typed, and seen at once as it will lie; what cannot be written is said with its reason.

import { bdi, button, dot, el, field, get, lengthText, post, t, timeText } from "/files/dom.js";
import { go, link, now, told } from "/files/app.js";
import { lying, lyingRows } from "/files/cards.js";
import { slug, tick, wristChips } from "/files/wishes.js";

/** Letters that a keyboard may not have. */
const SIGNS = ["♥", "★", "&"];

/** @param {any} at */
export async function view(at) {
  const form = await get("form"), from = at.query.get("brief");
  if (!now.box.threads.length) {
    return { title: t("name.title"), node: el("section", { class: "page" }, el("h1", {}, t("name.title")), el("p", { class: "lead" }, t("wishes.nothreads")), el("p", {}, link(t("wishes.tothreads"), "/threads", { class: "strong" }))) };
  }
  const found = from ? await get("brief", { name: from }) : { values: { ...form.naming }, version: "" };
  // A brief of a finished run is where one begins; a brief of the folder is changed itself.
  const own = from && !from.includes("/") ? from : "";
  return asked(found.values, { form, from, own, version: own ? found.version : "", changed: at.query.get("v") });
}

/** @param {Record<string, any>} values @param {any} from */
function asked(values, from) {
  const base = { ...values };
  if (from.changed) { try { Object.assign(values, JSON.parse(from.changed)); } catch { /* an address that was cut off */ } }
  for (const key of Object.keys(values)) { if (values[key] === null) { delete values[key]; } }
  const value = (key) => (values[key] === undefined ? from.form.keys[key].default : values[key]);
  const shown = el("div"), said = el("div", { class: "reasons", role: "status", "aria-live": "polite" });
  const start = button(t("name.start"), () => begin(), { class: "strong big", id: "start", disabled: true });
  const caption = el("p", { class: "soft", role: "status", "aria-live": "polite" });
  const seen = el("div", { class: "seen", id: "seen" }, shown, caption);
  let waiting = 0, turn = 0, pushed = 0, asking = false, left = false;

  const set = (key, to) => {
    if (to === undefined || to === null || to === "") { delete values[key]; } else { values[key] = to; }
    keep();
    start.disabled = true;
    clearTimeout(waiting);
    waiting = window.setTimeout(look, 220);
  };
  const keep = () => {
    const changed = {};
    for (const key of new Set([...Object.keys(values), ...Object.keys(base)])) { if (JSON.stringify(values[key]) !== JSON.stringify(base[key])) { changed[key] = values[key] ?? null; } }
    const query = new URLSearchParams(from.from ? { brief: from.from } : {});
    if (Object.keys(changed).length) { query.set("v", JSON.stringify(changed)); }
    const to = query.size ? `/name?${query}` : "/name";
    if (to === location.pathname + location.search) { return; }
    // A word that is typed is one step back, not one for every letter.
    const soon = Date.now() - pushed < 1200;
    pushed = Date.now();
    go(to, soon ? { replace: true, quiet: true } : { edit: t("edit.name"), quiet: true });
  };
  const look = async () => {
    const mine = ++turn;
    // One question at a time: what was typed meanwhile is asked next.
    if (asking) { return; }
    asking = true;
    let d;
    try { d = await post("name/try", { values }); } catch (bad) { d = { error: { text: bad.message } }; }
    asking = false;
    if (mine !== turn) { if (!left) { look(); } return; }
    const none = d.empty || d.error;
    said.replaceChildren(...(d.error ? [el("p", { class: "warn" }, d.error.text)] : !none && d.short.length ? [el("p", { class: d.onHand ? "warn" : "soft" }, t(d.onHand ? "name.short" : "band.tobuy", { names: d.short.join(", ") }))] : []));
    if (!none) {
      const words = [t("name.set", { text: d.text, ink: d.ink, ground: d.ground }), t("name.size", { height: d.height, long: lengthText(d.textMm, now.box.show), length: lengthText(d.lengthMm, now.box.show) })];
      if (values.repeated) { words.push(t("name.times", { n: d.times })); }
      caption.textContent = `${words.join(" ")} ${t("name.time", { time: timeText(d.minutes) })}`;
      shown.replaceChildren(lying(d.design, { rows: lyingRows(d.design, d.rows), wide: seen.clientWidth || 340, reads: d.reads, alt: t("name.alt", { text: d.text, ink: d.ink, ground: d.ground }) }));
    } else { shown.replaceChildren(); caption.textContent = t(d.empty ? "name.empty" : "name.not"); }
    seen.classList.toggle("none", Boolean(none));
    start.disabled = Boolean(none);
    said.dataset.tried = String(mine);
  };
  const begin = async () => {
    start.disabled = true;
    const title = String(values.text).trim().replace(/\s+/g, " ");
    const file = from.own || `${slug(title)}.toml`, taken = !from.own && [...now.briefs, ...now.groups].includes(file);
    const brief = taken ? `${slug(title)}-${Date.now().toString(36).slice(-4)}.toml` : file;
    try {
      await post("wishes/save", { name: brief, values: { ...values, title }, version: from.own ? from.version : "" });
      const { run } = await post("search/start", { brief });
      await go(`/bands/${encodeURIComponent(run)}`);
    } catch (bad) { start.disabled = false; await told(bad); }
  };

  const text = el("input", { value: values.text || "", maxlength: 100, autocomplete: "off", spellcheck: "false", autocapitalize: "characters", id: "text", class: "huge", on: { input: (e) => set("text", e.target.value) } });
  const signs = el("div", { class: "chips" }, SIGNS.map((sign) => button(sign, () => {
    const here = text.selectionStart ?? text.value.length;
    text.setRangeText(sign, here, text.selectionEnd ?? here, "end");
    text.focus();
    set("text", text.value);
  }, { "aria-label": t("name.sign", { sign }) })));
  const wrist = el("input", { type: "number", min: 50, max: 600, step: 1, value: values.wrist_mm || "", id: "wrist", on: { input: (e) => { delete values.length_mm; set("wrist_mm", e.target.value ? Number(e.target.value) : undefined); } } });
  const usual = wristChips(from.form.wrists, (mm) => { wrist.value = String(mm); delete values.length_mm; set("wrist_mm", mm); });
  const wide = el("output", {}, t("strands.n", { n: value("strands") }));
  const strands = el("input", { type: "range", min: 10, max: 24, step: 1, value: value("strands"), id: "k-strands", "aria-valuetext": t("strands.n", { n: value("strands") }), on: { input: (e) => { const n = Number(e.target.value); wide.textContent = t("strands.n", { n }); strands.setAttribute("aria-valuetext", wide.textContent); set("strands", n); } } });

  const node = el("section", { class: "page wishes naming" }, el("h1", {}, t("name.title")), seen,
    el("ol", { class: "asking" },
      el("li", {}, el("h2", {}, el("label", { for: "text" }, t("name.text"))), el("div", { class: "beside" }, text, signs), el("p", { class: "hint" }, t("name.hint"))),
      el("li", {}, el("h2", {}, t("ask.wrist")), usual, el("div", { class: "beside" }, field(t("ask.wrist.mm"), wrist))),
      el("li", {}, el("h2", {}, t("name.threads")),
        one("ink", [["", t("name.chosen")], ...inks()]), one("ground", [["", t("name.chosen")], ...inks()]),
        tick(t("name.onhand"), value("limits.on_hand"), (is) => set("limits.on_hand", is ? undefined : false))),
      el("li", {}, el("h2", {}, t("name.reads")), one("reads", ["wearer", "onlooker"].map((who) => [who, t(`name.reads.${who}`)])),
        one("repeated", [[false, t("name.once")], [true, t("name.often")]])),
      el("li", {}, el("h2", {}, t("ask.wide")), el("p", { class: "soft" }, t("name.wide")), el("div", { class: "slide" }, el("label", { for: "k-strands" }, t("key.strands")), wide, strands))),
    el("div", { class: "foot" }, said, start));
  look();
  return { node, title: t("name.title"), leave: () => { clearTimeout(waiting); left = true; turn++; } };

  /** The threads of the box, as what can be chosen. */
  function inks() { return now.box.threads.map((x) => [x.name, [dot(x.hex), bdi(x.name)]]); }

  /** One of several, as large buttons. @param {string} key @param {any[][]} choices */
  function one(key, choices) {
    const label = t(`name.${key}.label`), group = el("div", { class: "chips", role: "group", "aria-label": label }), is = () => value(key) ?? "";
    const draw = () => [...group.children].forEach((b, n) => b.setAttribute("aria-pressed", String(choices[n][0] === is())));
    group.append(...choices.map(([to, shown]) => button(shown, () => { set(key, to === from.form.keys[key].default ? undefined : to); draw(); }, { "data-to": String(to) })));
    draw();
    return el("div", { class: "one", id: `one-${key}` }, key === "reads" ? null : el("p", { class: "label", "aria-hidden": "true" }, label), group);
  }
}
