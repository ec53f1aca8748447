/* Works bands in frames of one page: reads only what a board page says, presses its keys, and keeps
   its own account of where every strand lies. arguments: html with a mark for the data, the mark,
   designs as JSON texts, which of them also look for lost places, and the callback. */
const [html, mark, designs, lost, done] = arguments;
const reads = ["notch", "over", "knots", "end", "step", "steps", "spoken", "finished"];

function press(page, key) { page.dispatchEvent(new KeyboardEvent("keydown", { key: key, bubbles: true })); }

function open(data) {
  return new Promise((ready) => {
    const frame = document.createElement("iframe");
    frame.width = 390;
    frame.height = 700;
    frame.onload = () => ready(frame);
    frame.srcdoc = html.split(mark).join(data);
    document.body.append(frame);
  });
}

function read(page) {
  const data = page.getElementById("step").dataset;
  return Object.fromEntries(reads.map((key) => [key, data[key]]));
}

/* One step as hands do it: notches, neighbours, knots. */
function tie(step, first, lying, heights, lowest) {
  let at = Number(step.notch) - first;
  const over = step.over.split(" ").map(Number), knots = step.knots.split(" ");
  over.forEach((notch, k) => {
    const other = notch - first, gap = Math.min(at, other);
    heights[gap]++;
    lowest[gap] = lying[at];
    if (knots[k][0] === knots[k][1]) {
      [lying[at], lying[other]] = [lying[other], lying[at]];
      at = other;
    }
  });
  return at + first === Number(step.end);
}

function letters(page) { return [...page.querySelectorAll("#view .letter")].map((e) => e.textContent); }

/* Gets lost at a step and looks: colours and rows (one look), and what the page asks (the second). */
function find(page, seen, first, rows) {
  page.getElementById("find").click();
  const palette = [...page.querySelectorAll("#find-palette button")].map((b) => b.querySelector(".square").textContent);
  page.getElementById("find-clear").click();
  seen.lying.forEach((letter) => page.querySelectorAll("#find-palette button")[palette.indexOf(letter)].click());
  const field = page.getElementById("find-rows");
  field.value = rows;
  field.dispatchEvent(new Event("input"));
  const out = page.getElementById("find-out");
  let looks = 1;
  if (out.dataset.look) {
    looks = 2;
    const kind = out.dataset.look, gap = Number(out.dataset.gap) - first;
    const answer = kind === "edge" ? seen.heights.join(" ") : kind === "count" ? String(seen.heights[gap]) : String(palette.indexOf(seen.lowest[gap]));
    for (let more; (more = out.querySelector("[data-more]"));) { more.click(); }
    const fitting = [...out.querySelectorAll("[data-answer]")].filter((b) => b.dataset.answer === answer);
    if (fitting.length !== 1) { return { looks: looks, kind: kind, answers: fitting.length }; }
    fitting[0].click();
  }
  const go = out.querySelectorAll("[data-go]");
  const told = go.length === 1 ? Number(go[0].dataset.go) : null;
  if (told !== null) { go[0].click(); }
  return { looks: looks, told: told, now: read(page) };
}

(async () => {
  const out = [];
  for (let n = 0; n < designs.length; n++) {
    const frame = await open(designs[n]), page = frame.contentDocument, steps = [], first = Number(page.querySelector("#view .number").textContent);
    const start = letters(page), lying = start.slice(), heights = new Array(lying.length - 1).fill(0), lowest = heights.map(() => "");
    const snaps = [];
    let ended = true, agreed = true;
    for (let step = read(page); !step.finished && steps.length < 5000; step = read(page)) {
      agreed = agreed && letters(page).join() === lying.join();
      snaps.push({ lying: lying.slice(), heights: heights.slice(), lowest: lowest.slice() });
      step.text = page.getElementById("doing").textContent.replace(/\s+/g, " ");
      steps.push(step);
      ended = tie(step, first, lying, heights, lowest) && ended;
      press(page, steps.length % 3 ? "ArrowRight" : " ");
    }
    const found = [];
    for (let k = 0; lost[n] && k < snaps.length; k += lost[n]) {
      const rows = Math.round(2 * snaps[k].heights.reduce((a, b) => a + b, 0) / snaps[k].heights.length) + (k % 5) - 2;
      found.push({ step: k + 1, ...find(page, snaps[k], first, Math.max(0, rows)) });
    }
    out.push({ first: first, start: start, steps: steps, ended: ended, agreed: agreed, found: found, last: read(page) });
    frame.remove();
  }
  done(out);
})();
