// A class from one box: who is in it, what each one likes, and then who gets which band.

import { bdi, button, dot, el, field, get, lengthText, post, put, say, t } from "/files/dom.js";
import { change, go, link, now, refresh, show, told } from "/files/app.js";
import { tick, wristChips } from "/files/wishes.js";

/** @type {any} */
let form = null;

/** @param {any} at */
export async function view(at) {
  form = form || await get("form");
  const title = t("class.title");
  if (!now.box.threads.length) {
    return { title, node: el("section", { class: "page" }, el("h1", {}, title), el("p", { class: "lead" }, t("wishes.nothreads")), el("p", {}, link(t("wishes.tothreads"), "/threads", { class: "strong" }))) };
  }
  if (at.rest) { return people(at.rest, at.query.get("person")); }
  return { title, node: at.query.get("new") || !now.groups.length ? beginning() : list() };
}

function list() {
  return el("section", { class: "page" }, el("h1", {}, t("class.title")),
    el("ul", { class: "runs" }, now.groups.map((name) => el("li", {}, link(el("strong", {}, bdi(name.replace(/\.toml$/, ""))), `/class/${encodeURIComponent(name)}`, { class: "run" })))),
    el("p", { class: "row" }, link(t("class.new"), "/class?new=1", { class: "strong button" })));
}

/** A new class: its names first, as they stand on a list. */
function beginning() {
  const names = el("textarea", { rows: 8, maxlength: 20000, id: "names", autocomplete: "off", spellcheck: "false" }), title = el("input", { maxlength: 120, value: t("class.untitled"), autocomplete: "off", id: "class-title" });
  const wrist = el("input", { type: "number", min: 50, max: 600, step: 1, value: 150, id: "wrist" });
  const wrong = el("p", { class: "warn", role: "alert", hidden: true });
  const next = button(t("class.next"), async () => {
    next.disabled = true;
    try {
      const { name } = await post("class/new", { title: title.value, names: names.value, values: wrist.value ? { wrist_mm: Number(wrist.value) } : {} });
      await go(`/class/${encodeURIComponent(name)}`);
    } catch (bad) { next.disabled = false; wrong.textContent = bad.message; wrong.hidden = false; }
  }, { class: "strong big", id: "next" });
  return el("section", { class: "page wishes" }, el("h1", {}, t("class.title")), el("p", { class: "lead" }, t("class.lead")),
    el("ol", { class: "asking" },
      el("li", {}, el("h2", {}, el("label", { for: "names" }, t("class.who"))), el("p", { class: "soft", id: "names-how" }, t("class.who.more")), names),
      el("li", {}, el("h2", {}, t("class.wrist")), el("p", { class: "soft" }, t("class.wrist.more")), wristChips(form.wrists, (mm) => { wrist.value = String(mm); }), field(t("ask.wrist.mm"), wrist)),
      el("li", {}, el("h2", {}, t("ask.name")), field(t("class.name"), title))),
    el("div", { class: "foot" }, wrong, next));
}

/** The people of a class, and what is the same for all. @param {string} file @param {string|null} open */
async function people(file, open) {
  const data = await get("class", { name: file }), values = data.values, value = (key) => (values[key] === undefined ? (form.keys[key] || {}).default : values[key]);
  const said = el("div", { class: "reasons", role: "status", "aria-live": "polite" });
  const start = button(t("class.start"), async () => {
    start.disabled = true;
    try { const { run } = await post("class/start", { name: file }); await go(`/bands/${encodeURIComponent(run)}`); } catch (bad) { start.disabled = false; await told(bad); }
  }, { class: "strong big", id: "start", disabled: true });
  let left = false;
  const check = async () => {
    let found;
    try { found = await post("class/check", { name: file }); } catch (bad) { found = { reasons: [{ name: "", text: bad.message }] }; }
    if (left) { return; }
    said.replaceChildren(...found.reasons.map((one) => el("p", { class: "warn" }, one.name ? [el("strong", {}, bdi(one.name)), ": "] : null, one.text)));
    start.disabled = found.reasons.length > 0;
    said.dataset.checked = "1";
  };
  const save = async (changes, words) => { if (await change("class/save", { name: file, values: changes, version: data.version }, words)) { await show(); } };
  const strands = el("input", { type: "range", min: 4, max: 24, step: 1, value: value("strands"), id: "k-strands", "aria-valuetext": t("strands.n", { n: value("strands") }), on: {
    input: () => { wide.textContent = t("strands.n", { n: Number(strands.value) }); strands.setAttribute("aria-valuetext", wide.textContent); }, change: () => save({ strands: Number(strands.value) }) } });
  const wide = el("output", {}, t("strands.n", { n: value("strands") }));
  const wrist = el("input", { type: "number", min: 50, max: 600, step: 1, value: values.wrist_mm || "", id: "wrist", on: { change: () => save({ wrist_mm: wrist.value ? Number(wrist.value) : null, ...(wrist.value ? { length_mm: null } : {}) }) } });
  const used = values.colours || now.box.threads.map((x) => x.name);
  const alike = value("alike") || "none";
  const text = data.people.some((p) => p.text), wider = text && value("strands") < 10;

  const node = el("section", { class: "page wishes class" }, el("h1", {}, bdi(values.title || file.replace(/\.toml$/, ""))),
    data.problem ? el("p", { class: "warn" }, data.problem) : null,
    el("p", { class: "lead" }, data.people.length ? t("class.people", { n: data.people.length }) : t("class.bands", { n: data.bands })),
    el("ul", { class: "people" }, data.people.map((one, n) => el("li", {}, card(one, n))),
      el("li", {}, button([el("span", { class: "plus", "aria-hidden": "true" }, "+"), t("class.join")], () => join(), { class: "person new", id: "join" }))),
    el("ol", { class: "asking" },
      el("li", {}, el("h2", {}, t("class.wrist")), el("p", { class: "soft" }, t("class.wrist.more")), wristChips(form.wrists, (mm) => save({ wrist_mm: mm, length_mm: null })), field(t("ask.wrist.mm"), wrist)),
      el("li", {}, el("h2", {}, t("ask.threads")), el("p", { class: "soft" }, t("ask.threads.more")), el("div", { class: "chips", role: "group", "aria-label": t("wishes.colours") }, now.box.threads.map((x) => button([dot(x.hex), bdi(x.name)], () => {
        const all = now.box.threads.map((one) => one.name), next = all.filter((c) => (c === x.name ? !used.includes(c) : used.includes(c)));
        save({ colours: next.length === all.length || !next.length ? null : next });
      }, { "aria-pressed": String(used.includes(x.name)), id: `use-${x.name}` })))),
      el("li", {}, el("h2", {}, t("class.alike")), el("div", { class: "chips", role: "group", "aria-label": t("class.alike") }, ["none", "designs", "all"].map((way) => button(t(`alike.${way}`), () => save({ alike: way }), { "aria-pressed": String(way === alike), id: `alike-${way}` })))),
      el("li", {}, el("h2", {}, t("ask.wide")), wider ? el("p", { class: "soft" }, t("class.wider")) : null, el("div", { class: "slide" }, el("label", { for: "k-strands" }, t("key.strands")), wide, strands)),
      el("li", {}, el("h2", {}, t("class.easy")), tick(t("class.twoknots"), JSON.stringify(value("limits.knots")) === '["rr","ll"]', (on) => save({ "limits.knots": on ? ["rr", "ll"] : null })),
        tick(t("class.fewsteps"), value("limits.steps_max") > 0, (on) => save({ "limits.steps_max": on ? 12 : null })),
        tick(t("class.onelength"), value("cut.style") === "simple", (on) => save({ "cut.style": on ? "simple" : null })))),
    el("div", { class: "foot" }, said, start));
  check();
  if (open !== null && data.people[Number(open)]) { setTimeout(() => { if (!left) { edit(data.people[Number(open)], Number(open)); } }); }
  return { node, title: values.title || t("class.title"), leave: () => { left = true; } };

  function card(one, n) {
    const inks = (names) => names.map((name) => { const found = now.box.threads.find((x) => x.name === name); return found ? dot(found.hex) : null; });
    const likes = one.colours || [], refuses = one.not_colours || [], facts = [one.wrist_mm ? lengthText(one.wrist_mm, now.box.show) : one.length_mm ? lengthText(one.length_mm, now.box.show) : "", one.level ? t(`level.${one.level}`) : ""].filter(Boolean);
    return button([el("strong", {}, bdi(one.name || "")), facts.length ? el("span", { class: "soft" }, facts.join(" · ")) : null,
      likes.length ? el("span", { class: "likes" }, el("span", { class: "soft" }, t("person.likes.short")), " ", inks(likes), el("span", { class: "out" }, likes.join(", "))) : null,
      refuses.length ? el("span", { class: "likes refused" }, el("span", { class: "soft" }, t("person.not.short")), " ", inks(refuses), el("span", { class: "out" }, refuses.join(", "))) : null,
      one.text ? el("span", { class: "says" }, t("person.says", { text: one.text })) : null], () => edit(one, n), { class: "person", "data-person": one.name });
  }

  /** Sends a change of the list; an error stays in the dialog. */
  async function send(dialog, wrong, what, ask, words, focus) {
    wrong.hidden = true;
    try {
      await post(what, { name: file, version: data.version, ...ask });
      // The dialog stays until the list is drawn anew: nobody touches what is old.
      await refresh();
      await show();
      dialog.close();
      say(words);
      const again = (focus && document.querySelector(`[data-person="${CSS.escape(focus)}"]`)) || document.getElementById("join");
      if (again) { /** @type {HTMLElement} */ (again).focus(); }
    } catch (bad) {
      // What stands there now is shown when this is closed.
      if (bad.changed) { dialog.addEventListener("close", () => show(), { once: true }); }
      wrong.textContent = bad.changed ? t("changed.class") : bad.message; wrong.hidden = false;
    }
  }

  function join() {
    const names = el("textarea", { rows: 4, maxlength: 20000, id: "names", spellcheck: "false" }), wrong = el("p", { class: "warn", role: "alert", hidden: true });
    const dialog = opened(t("class.join"), () => send(dialog, wrong, "class/join", { names: names.value }, t("class.joined"), ""), [field(t("class.names"), names, t("class.who.more")), wrong,
      el("div", { class: "row" }, el("button", { type: "submit", class: "strong" }, t("class.add")), button(t("cancel"), () => dialog.close(), { class: "quiet" }))]);
    names.focus();
  }

  function edit(one, n) {
    const name = el("input", { value: one.name || "", maxlength: 60, required: true, autocomplete: "off" });
    const wrist = el("input", { type: "number", min: 50, max: 600, step: 1, value: one.wrist_mm || "", placeholder: String(values.wrist_mm || "") });
    const text_ = el("input", { value: one.text || "", maxlength: 100, autocomplete: "off", spellcheck: "false" }), wrong = el("p", { class: "warn", role: "alert", hidden: true });
    let level = one.level || "";
    // A thread that is in the box no more is forgotten here.
    const there = (names) => new Set((names || []).filter((c) => now.box.threads.some((x) => x.name === c)));
    const likes = there(one.colours), refuses = there(one.not_colours);
    const levels = el("div", { class: "chips", role: "group", "aria-label": t("person.level") });
    const drawn = () => put(levels, ["", ...data.levels].map((to) => button(t(`level.${to || "any"}`), () => { level = to; drawn(); }, { "aria-pressed": String(level === to) })));
    drawn();
    const inks = (mine, others, key) => el("div", { class: "chips", role: "group", "aria-label": t(`person.${key}`), id: `person-${key}` }, now.box.threads.map((x) => button([dot(x.hex), bdi(x.name)], (event) => {
      if (mine.has(x.name)) { mine.delete(x.name); } else { mine.add(x.name); others.delete(x.name); }
      dialog.querySelectorAll("[data-ink]").forEach((b) => b.setAttribute("aria-pressed", String((b.closest("#person-likes") ? likes : refuses).has(/** @type {HTMLElement} */ (b).dataset.ink))));
    }, { "aria-pressed": String(mine.has(x.name)), "data-ink": x.name })));
    const submit = () => send(dialog, wrong, "class/person", { at: n, values: { name: name.value.trim(), wrist_mm: wrist.value ? Number(wrist.value) : null, level, colours: [...likes], not_colours: [...refuses], text: text_.value.trim() } }, t("person.changed", { name: name.value }), name.value.trim());
    const dialog = opened(one.name || "", submit, [
      field(t("thread.name"), name),
      el("fieldset", { class: "plain" }, el("legend", {}, t("ask.wrist")), wristChips(form.wrists, (mm) => { wrist.value = String(mm); }), field(t("ask.wrist.mm"), wrist, t("person.wrist.hint"))),
      el("fieldset", { class: "plain" }, el("legend", {}, t("person.likes")), inks(likes, refuses, "likes")),
      el("fieldset", { class: "plain" }, el("legend", {}, t("person.not")), inks(refuses, likes, "not")),
      el("fieldset", { class: "plain" }, el("legend", {}, t("person.level")), levels),
      field(t("person.text"), text_, t("person.text.hint")), wrong,
      el("div", { class: "row stays" }, el("button", { type: "submit", class: "strong" }, t("save")),
        button(t("person.out"), () => send(dialog, wrong, "class/leave", { at: n }, t("person.gone", { name: one.name || "" }), ""), { class: "quiet", id: "leave" }), button(t("cancel"), () => dialog.close(), { class: "quiet" }))]);
    name.focus();
  }
}

/** A dialog with a form. @param {string} title @param {() => void} submit @param {any[]} parts */
function opened(title, submit, parts) {
  const dialog = el("dialog", { "aria-labelledby": "person-title", on: { close: () => dialog.remove() } }, el("h2", { id: "person-title" }, bdi(title)),
    el("form", { method: "dialog", on: { submit: (event) => { event.preventDefault(); submit(); } } }, parts));
  document.body.append(dialog);
  dialog.showModal();
  return dialog;
}
