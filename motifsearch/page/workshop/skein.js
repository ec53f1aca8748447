// A thread as it lies in the box: wound on a card, as full as there is thread on hand.

const NS = "http://www.w3.org/2000/svg";

function svg(name, attributes, parent) {
  const node = document.createElementNS(NS, name);
  for (const [key, value] of Object.entries(attributes)) { node.setAttribute(key, String(value)); }
  if (parent) { parent.append(node); }
  return node;
}

function mix(hex, other, share) {
  const a = [1, 3, 5].map((k) => parseInt(hex.slice(k, k + 2), 16)), b = [1, 3, 5].map((k) => parseInt(other.slice(k, k + 2), 16));
  return `#${a.map((v, k) => Math.round(v + (b[k] - v) * share).toString(16).padStart(2, "0")).join("")}`;
}

/**
 * A card with thread wound around it: one wrap for every half metre, two dozen at most, and a loose end.
 * @param {string} hex @param {number} metres @param {number} mm thickness
 */
export function woundCard(hex, metres, mm) {
  const W = 104, H = 112, root = svg("svg", { viewBox: `0 0 ${W} ${H}`, class: "card-of-thread", "aria-hidden": "true" });
  // The card: stiff paper with waisted sides.
  svg("path", { d: "M14 6H90Q97 6 95 13Q88 30 88 56Q88 82 95 99Q97 106 90 106H14Q7 106 9 99Q16 82 16 56Q16 30 9 13Q7 6 14 6Z", class: "stiff" }, root);
  const wraps = Math.min(26, Math.ceil(metres / 0.5)), step = Math.min(5.2, Math.max(2.6, mm * 4.6)), thick = step * 1.06;
  const top = 56 - (Math.min(wraps, 13 * 4.6 / step) * step) / 2, layer = Math.max(1, Math.floor(62 / step));
  const dark = mix(hex, "#1a120a", 0.45), light = mix(hex, "#ffffff", 0.28);
  for (let n = 0; n < wraps; n++) {
    const over = Math.floor(n / layer), y = (over ? 26 + step / 2 : Math.max(26, top)) + (n % layer) * step, out = 2.4 * over;
    const d = `M${12 - out} ${y + 1.6}Q52 ${y - 1.4} ${92 + out} ${y - 1.6}`;
    svg("path", { d, stroke: dark, "stroke-width": thick + 0.7, fill: "none", "stroke-linecap": "round" }, root);
    svg("path", { d, stroke: hex, "stroke-width": thick - 0.5, fill: "none", "stroke-linecap": "round" }, root);
    svg("path", { d: `M${16 - out} ${y + 0.6}Q52 ${y - 2.3} ${88 + out} ${y - 2.5}`, stroke: light, "stroke-width": thick * 0.22, fill: "none", "stroke-dasharray": "3 2.2", opacity: 0.8 }, root);
  }
  if (wraps) {
    const d = "M88 80Q100 88 93 97Q86 106 98 110";
    svg("path", { d, stroke: dark, "stroke-width": thick * 0.75, fill: "none", "stroke-linecap": "round" }, root);
    svg("path", { d, stroke: hex, "stroke-width": thick * 0.55, fill: "none", "stroke-linecap": "round" }, root);
  }
  return root;
}

/** The pieces on hand as lengths of thread, longest first; at most eight are drawn. @param {string} hex @param {number[]} pieces @param {number} full */
export function pieceLines(hex, pieces, full) {
  const shown = [...pieces].sort((a, b) => b - a).slice(0, 8), H = Math.max(6, shown.length * 6);
  const root = svg("svg", { viewBox: `0 0 104 ${H}`, class: "pieces", "aria-hidden": "true" });
  shown.forEach((piece, n) => {
    const x = 4 + Math.min(1, piece / full) * 96, y = 3 + n * 6;
    svg("path", { d: `M4 ${y}H${x.toFixed(1)}`, stroke: mix(hex, "#1a120a", 0.4), "stroke-width": 3.6, "stroke-linecap": "round" }, root);
    svg("path", { d: `M4 ${y}H${x.toFixed(1)}`, stroke: hex, "stroke-width": 2.4, "stroke-linecap": "round" }, root);
  });
  return root;
}
