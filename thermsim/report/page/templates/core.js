"use strict";
/* What all drawings share: data, plain numbers, elements, the colours of temperature. */

const data = JSON.parse(document.getElementById("page-data").textContent);
const byId = (id) => document.getElementById(id);

function number(value, digits = 1) {
  return value === null || value === undefined ? "–" : value.toFixed(digits).replace("-", "−");
}

function clock(seconds) {
  if (seconds < 120) return `${Math.round(seconds)} s`;
  return `${number(seconds / 60, seconds % 60 ? 1 : 0)} min`;
}

function set(node, attributes) {
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
  return node;
}

function element(name, attributes = {}, ...children) {
  const made = set(document.createElement(name), attributes);
  made.append(...children);
  return made;
}

/* an element of a drawing, put at the end of `into` */
function draw(into, name, attributes = {}, text = null) {
  const made = set(document.createElementNS("http://www.w3.org/2000/svg", name), attributes);
  if (text !== null) made.textContent = text;
  if (into) into.append(made);
  return made;
}

/* round steps for an axis of about `count` ticks */
function ticks(low, high, count) {
  const rough = (high - low) / Math.max(count, 1);
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((k) => k * power).find((s) => s >= rough * 0.999);
  const found = [];
  for (let k = Math.ceil(low / step - 1e-9); k * step <= high + 1e-9 * step; k += 1) found.push(k * step);
  return { found, digits: Math.max(0, -Math.floor(Math.log10(step) + 1e-9)) };
}

/* colour of a share 0 to 1 of a list of colours */
function colourAt(colours, share) {
  const at = Math.round(Math.min(Math.max(share, 0), 1) * (colours.length - 1));
  return colours[at];
}

/* value of a curve at x, held at its ends; null where it has none */
function valueAt(line, x) {
  const { x: xs, y: ys } = line;
  let k = xs.findIndex((other) => other >= x);
  if (k === -1) return ys[ys.length - 1];
  if (k === 0 || xs[k] === x) return ys[k];
  if (ys[k] === null || ys[k - 1] === null) return null;
  return ys[k - 1] + ((ys[k] - ys[k - 1]) * (x - xs[k - 1])) / (xs[k] - xs[k - 1]);
}

/* move places apart to keep a gap, in order, within bounds; as near to where they want to be as that allows */
function apart(wanted, gap, low, high) {
  const order = wanted.map((_, k) => k).sort((a, b) => wanted[a] - wanted[b]);
  const found = [...wanted];
  let last = low - gap;
  for (const k of order) last = found[k] = Math.max(wanted[k], last + gap);
  let next = high + gap;
  for (const k of order.reverse()) next = found[k] = Math.min(found[k], next - gap);
  return found;
}
