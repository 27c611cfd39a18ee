/* Labels: names of the pipe and of the utilities at the open mark, kinds of the others, and names of marks. */
const tags = L.layerGroup(), AWAY = 45, ALONG = [0, 1, -1, 2, -2, 3, -3, 4, -4, 5, -5, 6, -6, 7, -7, 8, -8].map((step) => step * 24);
let taken = [];
const widthOf = (text) => 12 + 7 * Math.min(text.length, 22);
const isFree = (spot, width, height) => !taken.some((t) => Math.abs(t.x - spot.x) < (t.width + width) / 2 && Math.abs(t.y - spot.y) < (t.height + height) / 2);
function addTag(spot, ...lines) {
  const width = most(lines.map(widthOf), 0), height = 2 + 15 * lines.length;
  if (!isFree(spot, width, height)) return false;
  taken.push({ x: spot.x, y: spot.y, width, height });
  tags.addLayer(tag(map.layerPointToLatLng(spot), lines.join("\n")));
  return true;
}
/* No label lies under a control. */
function keepControlsFree() {
  const frame = map.getContainer().getBoundingClientRect();
  for (const control of map.getContainer().querySelectorAll(".leaflet-control")) {
    const { left, top, width, height } = control.getBoundingClientRect();
    const { x, y } = map.containerPointToLayerPoint([left - frame.left + width / 2, top - frame.top + height / 2]);
    if (width) taken.push({ x, y, width: width + 6, height: height + 6 });
  }
}
function refreshTags() {
  tags.clearLayers();
  taken = [];
  keepControlsFree();
  const box = L.bounds(map.containerPointToLayerPoint([0, 0]), map.containerPointToLayerPoint(map.getSize()));
  const at = chosen >= 0 && index.marks[chosen] && map.latLngToLayerPoint(index.marks[chosen]), mark = at && box.contains(at) ? at : null;
  const shown = map.hasLayer(groups.utilities) ? [...beside.keys()] : [];
  const rest = shown.filter((k) => !(mark && nameUtility(around.utilities[k], box, mark)));
  const named = Boolean(mark && map.hasLayer(groups.pipes) && index.pipes[chosen] && namePipe(box, mark));
  if (map.hasLayer(groups.marks)) tagMarks(named);
  rest.forEach((k) => tagUtility(around.utilities[k], box, 0.04 + 0.06 * (k % 7)));
}
/* The pipe's name stands further off, as the hole lies along the pipe. */
const namePipe = (box, mark) => nameUtility({ shape: "LineString", at: index.pipes[chosen], name: [w.water_line, index.id[chosen]] }, box, mark, 2.4 * AWAY);
/* Write the name on a utility as near the mark as there is room, beside the hole rather than on it. */
function nameUtility(utility, box, mark, away = AWAY) {
  const half = most(utility.name.map(widthOf), 0) / 2;
  const inner = L.bounds(box.min.add([half + 4, 20]), box.max.subtract([half + 4, 20]));
  const beside = (spot) => Math.abs(spot.x - mark.x) >= half + AWAY || Math.abs(spot.y - mark.y) >= AWAY + 16;
  const spots = spotsOn(utility, box, mark).filter((spot) => inner.contains(spot) && spot.distanceTo(mark) >= away);
  spots.sort((a, b) => beside(b) - beside(a) || a.distanceTo(mark) - b.distanceTo(mark));
  return spots.some((spot) => addTag(spot, ...utility.name));
}
function spotsOn(utility, box, mark) {
  if (utility.shape === "Point") return [map.latLngToLayerPoint(utility.at[0]).add([0, -15])];
  if (utility.shape === "Polygon") {
    const ring = L.bounds(utility.at[0][0].map((at) => map.latLngToLayerPoint(at)));
    return box.intersects(ring) ? [ring.getCenter()] : [];
  }
  if (!utility.shape.startsWith("Line")) return [];
  const spots = [];
  for (const part of utility.at) {
    const corners = part.map((at) => map.latLngToLayerPoint(at));
    for (let k = 1; k < corners.length; k++) {
      const cut = clipped(corners[k - 1], corners[k], box), length = cut ? cut[0].distanceTo(cut[1]) : 0;
      if (!length) continue;
      const way = cut[1].subtract(cut[0]).divideBy(length), from = mark.subtract(cut[0]);
      const foot = from.x * way.x + from.y * way.y;
      for (const step of ALONG) spots.push(cut[0].add(way.multiplyBy(Math.min(Math.max(foot + step, 0), length))));
    }
  }
  return spots;
}
/* Each mark of a line with its name: of the line, and of one of several marks. */
function namedMarks(k, lineIsNamed) {
  const marks = allMarks(k), line = lineIsNamed ? [] : [index.id[k]];
  if (marks.length < 2) return marks.flatMap((at) => line.map((name) => [at, name]));
  return marks.map((at, n) => [at, [...line, `${w.mark} ${n + 1}`].join(", ")]);
}
function tagMarks(named) {
  const view = map.getBounds();
  const close = [...wanted].flatMap((k) => namedMarks(k, named && k === chosen)).filter(([at]) => view.contains(at));
  if (close.length > 40) return;
  close.forEach(([at, name]) => addTag(map.latLngToLayerPoint(at).add([0, -24]), name));
}
/* Clip a segment to a box (Liang and Barsky); Leaflet's own function may not end if the box has fractional pixels. */
function clipped(a, b, { min, max }) {
  let [from, to] = [0, 1];
  for (const [step, room] of [[a.x - b.x, a.x - min.x], [b.x - a.x, max.x - a.x], [a.y - b.y, a.y - min.y], [b.y - a.y, max.y - a.y]]) {
    if (step === 0) { if (!(room >= 0)) return null; continue; }
    if (step < 0) from = Math.max(from, room / step);
    else to = Math.min(to, room / step);
  }
  const at = (share) => L.point(a.x + share * (b.x - a.x), a.y + share * (b.y - a.y));
  return from < to ? [at(from), at(to)] : null;
}
function tagUtility(utility, box, share) {
  if (utility.shape === "Point") {
    const spot = map.latLngToLayerPoint(utility.at[0]);
    if (box.contains(spot)) addTag(spot.add([0, -15]), utility.kindName);
  }
  if (utility.shape === "Polygon") {
    const ring = L.bounds(utility.at[0][0].map((at) => map.latLngToLayerPoint(at)));
    if (box.intersects(ring)) addTag(ring.getCenter(), utility.kindName);
  }
  if (!utility.shape.startsWith("Line")) return;
  for (const part of utility.at) {
    const corners = part.map((at) => map.latLngToLayerPoint(at));
    for (let k = 1; k < corners.length; k++) {
      const cut = clipped(corners[k - 1], corners[k], box);
      if (!cut || cut[0].distanceTo(cut[1]) < 80) continue;
      addTag(cut[0].multiplyBy(1 - share).add(cut[1].multiplyBy(share)), utility.kindName);
    }
  }
}
