/* Overview of many lines: pipes as one layer, marks as clusters. */
const FAR = 16;
let farPipes = null, seenPipes = null;
/* At low zoom a pipe is drawn from end to end without dashes, so that panning stays fast. */
function overviewPipes(seen, few) {
  const style = { color: looks.pipe, weight: 1.5, lineJoin: "bevel", lineCap: "butt", interactive: false };
  const far = map.getZoom() < FAR;
  if (seenPipes) groups.pipes.removeLayer(seenPipes);
  if (farPipes && (few || !far)) groups.pipes.removeLayer(farPipes);
  if (few) return;
  if (!far) seenPipes = L.polyline(seen.flatMap((k) => index.pipes[k] || []), style).addTo(groups.pipes);
  else {
    const ends = (part) => [part[0], part[part.length - 1]];
    farPipes = farPipes || L.polyline(index.pipes.flatMap((pipe) => (pipe || []).map(ends)), { ...style, noClip: true, smoothFactor: 0 });
    groups.pipes.addLayer(farPipes);
  }
}
const allMarks = (k) => [...(index.marks[k] ? [index.marks[k]] : []), ...(index.further.get(k) || [])];
/* Bounding box (west, south, east, north) and position of each line. */
function measureAll() {
  const { pipes, marks, id } = index;
  index.boxes = new Float64Array(4 * id.length);
  index.places = id.map((_, k) => {
    const all = [...(pipes[k] || []).flat(), ...allMarks(k)];
    const [lats, lons] = [all.map((at) => at[0]), all.map((at) => at[1])];
    index.boxes.set([least(lons, Infinity), least(lats, Infinity), most(lons, -Infinity), most(lats, -Infinity)], 4 * k);
    return marks[k] || (all.length ? all[Math.floor(all.length / 2)] : null);
  });
}
function linesIn(view) {
  const [west, south, east, north] = [view.getWest(), view.getSouth(), view.getEast(), view.getNorth()];
  const { boxes, id } = index, seen = [];
  for (let k = 0; k < id.length; k++) {
    if (boxes[4 * k] <= east && boxes[4 * k + 2] >= west && boxes[4 * k + 1] <= north && boxes[4 * k + 3] >= south) seen.push(k);
  }
  return seen;
}
const CELL = 72;
function clustersOf(seen) {
  const cells = new Map(), zoom = map.getZoom();
  for (const k of seen) {
    if (!index.places[k]) continue;
    const spot = map.project(index.places[k], zoom), key = Math.floor(spot.x / CELL) + "," + Math.floor(spot.y / CELL);
    const cell = cells.get(key) || { lines: [], lat: 0, lon: 0 };
    cell.lines.push(k);
    cell.lat += index.places[k][0];
    cell.lon += index.places[k][1];
    cells.set(key, cell);
  }
  return [...cells.values()];
}
function clusterLayers({ lines, lat, lon }) {
  const count = lines.length, at = [lat / count, lon / count];
  if (count === 1) {
    const k = lines[0], dot = { radius: 4, color: looks.pipe, weight: 1.5, fillColor: "#fff", fillOpacity: 1 };
    const crosses = allMarks(k).map((mark) => new Cross(mark, { radius: 12, arms: isLocated(k) }));
    const layers = crosses.length ? crosses : [L.circleMarker(at, dot)];
    return layers.map((layer) => choosable(layer.bindTooltip(tip(index.id[k], statusText(index.status[k]))), k));
  }
  const located = lines.filter(isLocated).length, byStatus = new Map();
  lines.forEach((k) => byStatus.set(index.status[k], (byStatus.get(index.status[k]) || 0) + 1));
  const says = [...byStatus].map(([code, n]) => `${statusText(code)}: ${n}`);
  const layer = new Cluster(at, { radius: 13 + 2 * Math.log10(count), text: String(count), share: located / count });
  layer.bindTooltip(tip(`${count} lines`, says));
  return [layer.on("click", (event) => {
    L.DomEvent.stop(event);
    map.fitBounds(L.latLngBounds(lines.map((k) => index.places[k])), { padding: [40, 40], maxZoom: 21 });
  })];
}
const isLocated = (k) => index.statuses[index.status[k]] === "located" && index.marks[k] !== null;
const statusText = (code) => head.statuses[index.statuses[code]] || index.statuses[code].replace(/_/g, " ");
