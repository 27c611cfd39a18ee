/* Shared state and helpers. Text from the data is inserted as text only, never as markup. */
const NS = "http://www.w3.org/2000/svg";
let map, groups, head, looks, w, index, around, chosen = -1;
const CLOSE = 20, MOST_WHOLE = 150, MOST_IN_DETAIL = 40;

const byId = (id) => document.getElementById(id);
function el(tag, attrs, ...children) {
  const node = document.createElement(tag);
  for (const [key, value] of Object.entries(attrs || {})) node.setAttribute(key, value);
  node.append(...children.filter((c) => c !== null && c !== undefined && c !== ""));
  return node;
}
function svg(tag, attrs, text) {
  const node = document.createElementNS(NS, tag);
  for (const [key, value] of Object.entries(attrs)) node.setAttribute(key, value);
  if (text !== undefined) node.textContent = text;
  return node;
}
const finite = (values) => values.filter((v) => v !== null);
const most = (values, or) => values.reduce((a, b) => Math.max(a, b), or);
const least = (values, or) => values.reduce((a, b) => Math.min(a, b), or);
const zoneColour = (rank) => looks.zones[Math.min(Math.max(rank, 1), looks.zones.length) - 1];
function levelColour(db, low, high) {
  if (db === null) return "#9a9a9a";
  const share = high > low ? (db - low) / (high - low) : 0.5;
  return looks.levels[Math.round(Math.min(Math.max(share, 0), 1) * (looks.levels.length - 1))];
}
function levelRange(line) {
  const used = line.readings.db.filter((v, k) => v !== null && line.readings.used[k]);
  return used.length ? [least(used, Infinity), most(used, -Infinity)] : [0, 1];
}
const look = (kind) => looks.utilities[kind] || looks.utilities.unknown;
/* Tooltip of several lines, created when it is shown. */
const tip = (...texts) => () => {
  const box = el("div");
  texts.flat().filter(Boolean).forEach((text, k) => box.append(el(k ? "div" : "b", {}, text)));
  return box;
};
function boundsOf(...shapes) {
  const flat = shapes.flat(9).filter((v) => typeof v === "number"), points = [];
  for (let k = 0; k + 1 < flat.length; k += 2) points.push([flat[k], flat[k + 1]]);
  return points.length ? L.latLngBounds(points) : null;
}
