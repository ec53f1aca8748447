// Wishes: three ways to begin, then one thing after the other; what is impossible is said at once.

import { bdi, button, dot, el, field, get, lengthText, post, put, say, t, tOr } from "/files/dom.js";
import { change, go, link, now, told } from "/files/app.js";
import * as naming from "/files/name.js";

/** @type {any} */
let form = null;

/** @param {any} at */
export async function view(at) {
  form = form || await get("form");
  const start = at.query.get("start"), name = at.query.get("brief");
  if (!now.box.threads.length) {
    return { title: t("place.wishes"), node: el("section", { class: "page" }, el("h1", {}, t("wishes.title")), el("p", { class: "lead" }, t("wishes.nothreads")), el("p", {}, link(t("wishes.tothreads"), "/threads", { class: "strong" }))) };
  }
  if (!start && !name) { return { title: t("place.wishes"), node: beginnings() }; }
  let values, version = "";
  if (name) { ({ values, version } = await get("brief", { name })); }
  else { values = { ...(form.starts[start] || form.starts["only-my-threads"]) }; delete values.title; delete values["search.seed"]; }
  if (values.text) { return naming.view(at); }
  const changed = at.query.get("v");
  if (changed) { try { Object.assign(values, JSON.parse(changed)); } catch { /* an address that was cut off */ } }
  return asked(values, { start, name, version });
}

function beginnings() {
  return el("section", { class: "page" }, el("h1", {}, t("wishes.title")), el("p", { class: "lead" }, t("wishes.lead")),
    el("ul", { class: "starts" }, Object.keys(form.starts).map((name) => el("li", {}, link([picture(name), el("strong", {}, t(`start.${name}`)), el("span", { class: "soft" }, t(`start.${name}.more`))], `/wishes?start=${name}`, { class: "start" }))),
      ["name", "class"].map((name) => el("li", {}, link([picture(name), el("strong", {}, t(`start.${name}`)), el("span", { class: "soft" }, t(`start.${name}.more`))], `/${name}`, { class: "start" })))),
    now.briefs.length ? earlier(t("wishes.earlier"), now.briefs, (name) => `/wishes?brief=${encodeURIComponent(name)}`) : null,
    now.groups.length ? earlier(t("class.earlier"), now.groups, (name) => `/class/${encodeURIComponent(name)}`) : null);
}

/** Files from before. @param {string} title @param {string[]} names @param {(name: string) => string} address */
function earlier(title, names, address) {
  return el("section", {}, el("h2", {}, title), el("ul", { class: "lines" }, names.map((name) => el("li", {}, link(bdi(name.replace(/\.toml$/, "")), address(name))))));
}

/** A few threads laid out for each way to begin. @param {string} name */
function picture(name) {
  const NS = "http://www.w3.org/2000/svg", root = document.createElementNS(NS, "svg");
  root.setAttribute("viewBox", "0 0 200 70");
  root.setAttribute("aria-hidden", "true");
  const inks = now.box.threads.map((x) => x.hex), line = (d, hex, wide) => {
    const path = document.createElementNS(NS, "path");
    path.setAttribute("d", d); path.setAttribute("stroke", hex); path.setAttribute("stroke-width", String(wide));
    path.setAttribute("fill", "none"); path.setAttribute("stroke-linecap", "round");
    root.append(path);
  };
  const ink = (n) => inks[n % inks.length];
  if (name === "only-my-threads") { for (let n = 0; n < 5; n++) { const y = 10 + n * 12.5; line(`M10 ${y}C60 ${y - 9} 90 ${y + 9} ${185 - 27 * ((n * 3) % 5)} ${y}`, ink(n), 5); } }
  else if (name === "equal-use") { for (let n = 0; n < 6; n++) { line(`M${22 + n * 31} 6V64`, ink(n % 3), 6); } line("M8 67H192", "#857664", 1.5); }
  else if (name === "class") {
    for (let n = 0; n < 5; n++) {
      const x = 28 + n * 36;
      line(`M${x} 4V${44 + 6 * (n % 2)}`, ink(n), 17);
      for (let y = 8; y < 44; y += 11) { line(`M${x - 5} ${y}L${x} ${y + 5}L${x + 5} ${y}`, ink(n + 1 + n % 3), 3.4); }
      line(`M${x - 11} 66H${x + 11}`, "#857664", 2.6);
    }
  }
  else if (name === "name") {
    line("M16 35H184", ink(1), 46);
    const strokes = ["M34 48V22L48 38L62 22V48", "M80 22V48", "M98 48L112 22L126 48M104 40H120", "M158 47L146 33Q142 22 152 23Q157 24 158 29Q159 24 164 23Q174 22 170 33Z"];
    strokes.forEach((d) => line(d, ink(0), 6));
  }
  else { for (let n = 0; n < 9; n++) { const x = 14 + n * 21.5; for (let k = 0; k < 5; k++) { line(`M${x - 6} ${8 + k * 13}L${x} ${14 + k * 13}L${x + 6} ${8 + k * 13}`, ink(n + (k % 2) * (1 + n % 3)), 4.6); } } }
  return root;
}

/** The wishes themselves. @param {Record<string, any>} values @param {{start: string|null, name: string|null, version: string}} from */
function asked(values, from) {
  const first = JSON.stringify(values);
  const record = (key) => form.keys[key], value = (key) => (values[key] === undefined ? record(key).default : values[key]);
  const reasons = el("div", { class: "reasons", role: "status", "aria-live": "polite" }), length = el("output", { class: "soft" });
  const start = button(t("wishes.search"), () => search(false), { class: "strong big", id: "start" });
  const known = button(t("wishes.known"), () => search(true), { class: "big", id: "known" });
  let waiting = 0, turn = 0, pushed = 0;

  const set = (key, to) => {
    if (to === undefined || to === null) { delete values[key]; } else { values[key] = to; }
    keep();
    clearTimeout(waiting);
    waiting = window.setTimeout(check, 120);
  };
  const keep = () => {
    const base = from.name ? JSON.parse(first) : form.starts[from.start || ""] || {}, changed = {};
    for (const key of new Set([...Object.keys(values), ...Object.keys(base)])) {
      if (key !== "title" && key !== "search.seed" && JSON.stringify(values[key]) !== JSON.stringify(base[key])) { changed[key] = values[key] ?? null; }
    }
    const query = new URLSearchParams(from.name ? { brief: from.name } : { start: from.start || "" });
    if (Object.keys(changed).length) { query.set("v", JSON.stringify(changed)); }
    const to = `/wishes?${query}`;
    if (to === location.pathname + location.search) { return; }
    // A slider that is drawn is one step back, not a hundred.
    const soon = Date.now() - pushed < 1200;
    pushed = Date.now();
    go(to, soon ? { replace: true, quiet: true } : { edit: t("edit.wish"), quiet: true });
  };
  const check = async () => {
    const mine = ++turn;
    let said;
    try { said = await post("wishes/check", { values }); } catch (bad) { if (mine === turn) { reasons.replaceChildren(el("p", { class: "warn" }, bad.message)); } return; }
    if (mine !== turn) { return; }
    if (said.error) { reasons.replaceChildren(el("p", { class: "warn" }, said.error.text)); }
    else {
      length.textContent = t("wishes.length", { length: lengthText(said.length_mm, now.box.show) });
      reasons.replaceChildren(...said.reasons.map((one) => el("div", { class: "warn" }, el("p", {}, one.text),
        Object.keys(one.nearest).length ? button(t("wishes.nearest", { what: Object.entries(one.nearest).map(([k, v]) => spoken(k, v)).join(t("and")) }), () => {
          Object.assign(values, one.nearest);
          keep();
          go(location.pathname + location.search, { replace: true });
        }) : null)));
    }
    known.disabled = start.disabled = Boolean(said.error) || said.reasons.length > 0;
    reasons.dataset.checked = String(mine);
  };
  /** @param {boolean} fromKnown whether bands come from what was ever found, at once */
  const search = async (fromKnown) => {
    known.disabled = start.disabled = true;
    const title = names.value.trim() || strandsText(value("strands"));
    const file = from.name || `${slug(title)}.toml`;
    const taken = !from.name && [...now.briefs, ...now.groups].includes(file);
    const brief = taken ? `${slug(title)}-${Date.now().toString(36).slice(-4)}.toml` : file;
    try {
      await post("wishes/save", { name: brief, values: { ...values, title, "search.generations": values["search.generations"] || 100 }, version: from.name ? from.version : "" });
      const { run } = await post("search/start", { brief, known: fromKnown });
      await go(`/bands/${encodeURIComponent(run)}`);
    } catch (bad) { known.disabled = start.disabled = false; await told(bad); }
  };

  const names = el("input", { value: values.title || "", maxlength: 120, autocomplete: "off", on: { input: (e) => set("title", e.target.value || undefined) } });
  const chosen = new Set(values.colours && values.colours.length ? values.colours.filter((c) => now.box.threads.some((x) => x.name === c)) : now.box.threads.map((x) => x.name));
  const threadsOf = el("div", { class: "chips", role: "group", "aria-label": t("wishes.colours") }, now.box.threads.map((one) => {
    const chip = button([dot(one.hex), bdi(one.name)], () => {
      if (chosen.has(one.name)) { chosen.delete(one.name); } else { chosen.add(one.name); }
      chip.setAttribute("aria-pressed", String(chosen.has(one.name)));
      set("colours", chosen.size === now.box.threads.length ? undefined : now.box.threads.map((x) => x.name).filter((n) => chosen.has(n)));
    }, { "aria-pressed": String(chosen.has(one.name)) });
    return chip;
  }));
  const strands = el("div", { class: "widths" });
  drawWidths();
  const wrist = el("input", { type: "number", min: 50, max: 600, step: 1, value: values.wrist_mm || "", on: { input: (e) => { delete values.length_mm; set("wrist_mm", e.target.value ? Number(e.target.value) : undefined); } } });
  const usual = wristChips(form.wrists, (mm) => { wrist.value = String(mm); delete values.length_mm; set("wrist_mm", mm); });

  /** One number of strands as a slider; or several, one search over all of them. @param {boolean} [focus] */
  function drawWidths(focus = false) {
    const now_ = value("strands"), several = Array.isArray(now_);
    const turn = button(t(several ? "widths.one" : "widths.several"), () => {
      const n = several ? now_[0] : Number(now_), near = n + 2 > 24 ? n - 2 : n + 2;
      set("strands", several ? n : [n, near].sort((a, b) => a - b));
      drawWidths(true);
    }, { class: "quiet", id: "widths-turn" });
    const chips = () => el("div", { class: "chips", role: "group", "aria-label": t("widths.which") }, range(4, 24).map((n) => {
      const chip = button(String(n), () => {
        const left = value("strands").includes(n) ? value("strands").filter((x) => x !== n) : [...value("strands"), n].sort((a, b) => a - b);
        if (!left.length) { return; }
        set("strands", left);
        chip.setAttribute("aria-pressed", String(left.includes(n)));
        out.textContent = strandsText(left);
      }, { "aria-pressed": String(now_.includes(n)), "data-width": n });
      return chip;
    }));
    const out = el("output", {}, strandsText(now_));
    put(strands, several ? el("div", {}, el("p", {}, out), chips()) : slider("strands", { min: 4, max: 24, step: 1 }, (n) => t("strands.n", { n })), el("p", {}, turn));
    if (focus) { turn.focus(); }
  }

  function slider(key, bounds, shown) {
    const out = el("output", {}, shown(value(key) ?? bounds.min));
    const input = el("input", { type: "range", ...bounds, value: value(key) ?? bounds.min, id: `k-${key}`, on: { input: (e) => { const n = Number(e.target.value); out.textContent = shown(n); input.setAttribute("aria-valuetext", shown(n)); set(key, n); } } });
    input.setAttribute("aria-valuetext", out.textContent);
    return el("div", { class: "slide" }, el("label", { for: input.id }, tOr(`key.${key}`, record(key).label)), out, input);
  }
  const limit = (key) => {
    const r = record(key), label = tOr(`key.${key}`, r.label);
    if (r.kind === "flag") { return tick(label, Boolean(value(key)), (on) => set(key, on)); }
    if (r.kind === "knots") {
      return el("fieldset", { class: "sub" }, el("legend", {}, label), r.default.map((k) => tick(t(`knot.${k}`), value(key).includes(k), (on) => {
        set(key, r.default.filter((x) => (x === k ? on : value(key).includes(x))));
      })));
    }
    const loose = { "limits.lone_max": 1, "limits.repeat_rows_max": 48, "limits.steps_max": 0 }[key] ?? 0;
    const usualOf = { "limits.evenness_min": 0.8, "limits.contrast_min": 20, "limits.flatness_min": 0.5, "limits.lone_max": 0.2, "limits.repeat_rows_max": 24, "limits.steps_max": 24 }[key];
    const max = { "limits.contrast_min": 60, "limits.repeat_rows_max": 96, "limits.steps_max": 80 }[key] ?? 1, step = max === 1 ? 0.05 : key === "limits.repeat_rows_max" ? 2 : 1;
    const shown = (n) => (max === 1 ? t("percent", { n: Math.round(n * 100) }) : String(n));
    if (key === "limits.repeat_rows_max") { return slider(key, { min: 2, max, step }, (n) => t("rows.n", { n })); }
    const more = el("div", { class: "more" }), on = value(key) !== loose;
    const draw = (is) => more.replaceChildren(...(is ? [slider(key, { min: max === 1 ? 0.05 : 1, max, step }, shown)] : []));
    draw(on);
    return el("div", {}, tick(label, on, (is) => { set(key, is ? usualOf : loose); draw(is); }), more);
  };
  const node = el("section", { class: "page wishes" }, el("h1", {}, from.name ? bdi(values.title || from.name) : t(`start.${from.start}`)),
    el("ol", { class: "asking" },
      el("li", {}, el("h2", {}, t("ask.threads")), el("p", { class: "soft" }, t("ask.threads.more")), threadsOf,
        el("div", { class: "pair" }, slider("colours_min", { min: 1, max: Math.min(8, now.box.threads.length), step: 1 }, (n) => t("colours.n", { n })), slider("colours_max", { min: 1, max: Math.min(12, now.box.threads.length), step: 1 }, (n) => t("colours.n", { n })))),
      el("li", {}, el("h2", {}, t("ask.wrist")), usual, el("div", { class: "beside" }, field(t("ask.wrist.mm"), wrist), length)),
      el("li", {}, el("h2", {}, t("ask.wide")), strands),
      el("li", {}, el("h2", {}, t("ask.must")), el("div", { class: "limits" }, form.limits.map(limit)),
        tick(tOr("key.folded", record("folded").label), value("folded"), (is) => set("folded", is))),
      el("li", {}, el("h2", {}, t("ask.wish")), el("p", { class: "soft" }, t("ask.wish.more")), el("div", { class: "sliders" }, form.wishes.map((one) => {
        const key = `wishes.${one.name}`, shown = (n) => t(`weight.${n === 0 ? "none" : n < 1 ? "little" : n < 2 ? "some" : "much"}`);
        const at = values[key] ?? one.weight, out = el("output", {}, shown(at));
        const input = el("input", { type: "range", min: 0, max: 3, step: 0.5, value: Math.min(3, at), id: `k-${key}`, on: { input: (e) => { const n = Number(e.target.value); out.textContent = shown(n); input.setAttribute("aria-valuetext", shown(n)); set(key, n); } } });
        input.setAttribute("aria-valuetext", shown(at));
        return el("div", { class: "slide", title: one.meaning }, el("label", { for: input.id }, tOr(`wish.${one.name}`, one.label)), out, input);
      }))),
      el("li", {}, el("h2", {}, t("ask.name")), field(t("ask.name.label"), names, t("ask.name.hint")), slider("gallery.size", { min: 4, max: 60, step: 1 }, (n) => t("bands.n", { n })))),
    el("div", { class: "foot" }, reasons, known, start));
  check();
  return { node, title: t("place.wishes"), leave: () => clearTimeout(waiting) };

  function spoken(key, to) {
    const r = form.keys[key], label = tOr(`key.${key}`, (r && r.label) || key);
    if (typeof to === "boolean") { return t(to ? "spoken.on" : "spoken.off", { label }); }
    return t("spoken.value", { label, value: Array.isArray(to) ? to.join(", ") : r && r.high === 1 ? t("percent", { n: Math.round(to * 100) }) : Math.round(to * 100) / 100 });
  }
}

/** Numbers from the first to the last. @param {number} first @param {number} last */
const range = (first, last) => Array.from({ length: last - first + 1 }, (_, n) => first + n);

/** A number of strands, or several, in words. @param {number | number[]} n */
const strandsText = (n) => (Array.isArray(n) && n.length > 1 ? t("widths.n", { n: n.join(", ") }) : t("strands.n", { n: Number(n) }));

/** Wrists of people, to be touched. @param {{name: string, mm: number}[]} wrists @param {(mm: number) => void} call */
export function wristChips(wrists, call) {
  return el("div", { class: "chips" }, wrists.map((one) => button([t(`wrist.${one.name}`), " ", el("span", { class: "soft" }, lengthText(one.mm, now.box.show))], () => call(one.mm))));
}

/** A box to tick. @param {string} label @param {boolean} on @param {(on: boolean) => void} call */
export function tick(label, on, call) {
  const input = el("input", { type: "checkbox", checked: on, on: { change: (e) => call(e.target.checked) } });
  return el("label", { class: "tick" }, input, el("span", {}, label));
}

/** A file's name from a title. @param {string} title */
export function slug(title) {
  return title.replace(/♥/g, " heart ").replace(/★/g, " star ").toLowerCase().normalize("NFKD").replace(/[^a-z0-9]+/g, "-").replace(/^-+|-+$/g, "").slice(0, 40) || "wishes";
}

export { change, say };
