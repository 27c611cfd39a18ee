/* Labels: letters of utilities and names of marks. */
const tags = L.layerGroup();
let taken = [];
function addTag(spot, text) {
  const width = 12 + 7 * Math.min(text.length, 22);
  if (taken.some((t) => Math.abs(t.x - spot.x) < (t.width + width) / 2 && Math.abs(t.y - spot.y) < 17)) return;
  taken.push({ x: spot.x, y: spot.y, width });
  tags.addLayer(tag(map.layerPointToLatLng(spot), text));
}
function refreshTags() {
  tags.clearLayers();
  taken = [];
  const box = L.bounds(map.containerPointToLayerPoint([0, 0]), map.containerPointToLayerPoint(map.getSize()));
  if (map.hasLayer(groups.marks)) tagMarks();
  if (map.hasLayer(groups.utilities)) beside.forEach((_, k) => tagUtility(around.utilities[k], box, 0.04 + 0.06 * (k % 7)));
}
function tagMarks() {
  const view = map.getBounds();
  const close = [...wanted].filter((k) => index.marks[k] && view.contains(index.marks[k]));
  if (close.length > 40) return;
  close.forEach((k) => addTag(map.latLngToLayerPoint(index.marks[k]).add([0, -24]), index.id[k]));
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
    if (box.contains(spot)) addTag(spot.add([0, -15]), utility.letter);
  }
  if (utility.shape === "Polygon") {
    const ring = L.bounds(utility.at[0][0].map((at) => map.latLngToLayerPoint(at)));
    if (box.intersects(ring)) addTag(ring.getCenter(), utility.letter);
  }
  if (!utility.shape.startsWith("Line")) return;
  for (const part of utility.at) {
    const corners = part.map((at) => map.latLngToLayerPoint(at));
    for (let k = 1; k < corners.length; k++) {
      const cut = clipped(corners[k - 1], corners[k], box);
      if (!cut || cut[0].distanceTo(cut[1]) < 80) continue;
      addTag(cut[0].multiplyBy(1 - share).add(cut[1].multiplyBy(share)), utility.letter);
    }
  }
}
