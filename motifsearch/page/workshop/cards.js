// Bands as they hang: the cloth, drawn when it comes into sight, and what is said of it.

import { drawBand } from "/files/cloth.js";
import { el, t } from "/files/dom.js";

const LOOP = 22;

/** Rows and pitch of a picture of a band. @param {any} d @param {number} wide @param {number} tall @param {number} [rows] */
export function sizeOf(d, wide, tall, rows) {
  const ratio = Math.min(2, window.devicePixelRatio || 1), strands = d.order.length;
  const pitch = Math.max(4, Math.min(24, Math.floor(wide * ratio / (strands + 0.5))));
  return { ratio, pitch, rows: rows || Math.max(6, Math.floor(tall * ratio / pitch) - 1) };
}

/** Draws a band on a canvas of its own size in CSS pixels. @param {HTMLCanvasElement} canvas @param {any} d @param {any} size */
export function paintBand(canvas, d, size) {
  drawBand(canvas, { ...d, rows: Math.max(size.rows, 2), repeatRows: null, walked: null }, { rows: size.rows, pitch: size.pitch, hexes: d.hexes });
  canvas.style.width = `${canvas.width / size.ratio}px`;
  canvas.style.height = `${canvas.height / size.ratio}px`;
}

/** @type {WeakMap<Element, () => void>} */
const drawings = new WeakMap();
const near = new IntersectionObserver((entries) => {
  for (const entry of entries) {
    const call = drawings.get(entry.target);
    if (entry.isIntersecting && call && !entry.target.hasAttribute("data-drawn")) { call(); entry.target.setAttribute("data-drawn", ""); }
  }
}, { rootMargin: "400px" });
// What is far away gives its picture back, so that a thousand bands take no more memory than a screenful.
const far = new IntersectionObserver((entries) => {
  for (const entry of entries) {
    if (entry.isIntersecting || !entry.target.hasAttribute("data-drawn")) { continue; }
    entry.target.removeAttribute("data-drawn");
    /** @type {HTMLCanvasElement} */ (entry.target).width = 0;
  }
}, { rootMargin: "3000px" });

/** Draws a canvas when it comes near to sight. @param {HTMLCanvasElement} canvas @param {() => void} call */
export function whenSeen(canvas, call) { drawings.set(canvas, call); near.observe(canvas); far.observe(canvas); }

/**
 * The cloth of a band, hanging: a picture, its loop, and the fringe or the fade at its end.
 * @param {any} d @param {{wide?: number, tall?: number, rows?: number, whole?: boolean}} [how]
 */
export function hanging(d, how = {}) {
  const canvas = el("canvas", { "aria-hidden": "true" });
  const size = sizeOf(d, how.wide || 96, how.tall || 250, how.rows);
  const wide = (d.order.length * size.pitch + 2 * Math.max(1, size.pitch >> 2)) / size.ratio;
  canvas.style.width = `${wide}px`;
  canvas.style.height = `${(size.rows + 1) * size.pitch / size.ratio}px`;
  const cords = el("span", { class: "cords", "aria-hidden": "true" }, loop(d, wide));
  const node = el("span", { class: how.whole ? "hanging whole" : "hanging" }, cords, canvas);
  whenSeen(canvas, () => paintBand(canvas, d, size));
  return node;
}

/**
 * A band that lies as it is read: its start at the left, or at the right for the one who looks on.
 * @param {any} d @param {{rows: number, wide?: number, reads?: string, alt?: string}} how
 */
export function lying(d, how) {
  const ratio = Math.min(2, window.devicePixelRatio || 1), rows = Math.max(2, Math.min(400, how.rows));
  const pitch = Math.max(4, Math.min(16 * ratio, Math.ceil((how.wide || 640) * ratio / (rows + 1))));
  const canvas = el("canvas", how.alt ? { role: "img", "aria-label": how.alt } : { "aria-hidden": "true" });
  const wide = (rows + 1) * pitch, tall = d.order.length * pitch + 2 * Math.max(1, pitch >> 2);
  canvas.style.aspectRatio = `${wide} / ${tall}`;
  canvas.style.maxWidth = `${wide / ratio}px`;
  whenSeen(canvas, () => drawBand(canvas, { ...d, rows, repeatRows: null, walked: null }, { rows, pitch, hexes: d.hexes, lying: true }));
  return el("span", { class: how.reads === "onlooker" ? "lying turned" : "lying" }, canvas);
}

/** Rows of a band that lies: whole, also where its text stands on it several times. @param {any} d @param {number} [rows] */
export function lyingRows(d, rows) {
  const period = d.knots.split(" ").length;
  return Math.min(400, Math.max(rows || 0, period));
}

/** The strands above the first row, gathered into the loop that hangs on the rod. */
function loop(d, wide) {
  const NS = "http://www.w3.org/2000/svg", root = document.createElementNS(NS, "svg");
  root.setAttribute("viewBox", `0 0 ${wide} ${LOOP}`);
  root.setAttribute("width", String(wide));
  root.setAttribute("height", String(LOOP));
  const strands = d.order.length, step = wide / strands;
  d.order.forEach((colour, s) => {
    const x = (s + 0.5) * step, mid = wide / 2 + (s - (strands - 1) / 2) * Math.min(1.6, step * 0.25);
    const path = document.createElementNS(NS, "path");
    path.setAttribute("d", `M${mid} 0C${mid} ${LOOP * 0.55} ${x} ${LOOP * 0.45} ${x} ${LOOP + 1}`);
    path.setAttribute("stroke", d.hexes[colour]);
    path.setAttribute("stroke-width", String(Math.max(1.5, Math.min(4, step * 0.42))));
    path.setAttribute("fill", "none");
    root.append(path);
  });
  return root;
}

/** A line of what a search did: how good, by designs tried. @param {number[][]} curve @param {string} label */
export function curveOf(curve, label) {
  const NS = "http://www.w3.org/2000/svg", W = 220, H = 56, root = document.createElementNS(NS, "svg");
  root.setAttribute("viewBox", `0 0 ${W} ${H}`);
  root.setAttribute("class", "curve");
  root.setAttribute("role", "img");
  root.setAttribute("aria-label", label);
  if (curve.length > 1) {
    const most = curve[curve.length - 1][0], low = Math.min(...curve.map((c) => c[1])) - 0.01, high = Math.max(...curve.map((c) => c[1])) + 0.005;
    const points = curve.map(([n, v]) => `${(n / most * (W - 8) + 4).toFixed(1)},${(H - 4 - (v - low) / (high - low) * (H - 8)).toFixed(1)}`);
    const line = document.createElementNS(NS, "polyline");
    line.setAttribute("points", points.join(" "));
    root.append(line);
  }
  return root;
}

/** What is said of a band for those who do not see it. @param {any} d */
export function altOf(d) { return d.alt || t("band.alt", { title: d.title }); }
