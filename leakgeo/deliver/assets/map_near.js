/* Readings, next stops and the walking order: drawn only if few lines are in view. */
function readingDots(readings, low, high) {
  const dots = [];
  readings.at.forEach((at, k) => {
    if (!at) return;
    const colour = levelColour(readings.db[k], low, high), used = readings.used[k];
    const radius = map.getZoom() >= CLOSE ? 5 : 3;
    const style = used
      ? { radius, color: "#fff", weight: 1, fillColor: colour, fillOpacity: 1 }
      : { radius, color: "#555", weight: 1.5, fillColor: "#fff", fillOpacity: 0.2 };
    const level = readings.db[k] === null ? "no level" : readings.db[k].toFixed(1) + " dB";
    const why = used ? "" : "not used: " + (readings.why[k] || "no reason recorded");
    dots.push(L.circleMarker(at, style).bindTooltip(tip(readings.id[k] || "reading", level, why)));
  });
  return dots;
}
function tag(at, text, kind) {
  const icon = L.divIcon({ html: el("span", {}, text), className: "tag " + (kind || ""), iconSize: null });
  return L.marker(at, { icon, interactive: false, keyboard: false });
}
/* Readings are drawn at high zoom only: at low zoom they would hide the marks. */
const showsReadings = (k) => k === chosen || map.getZoom() >= CLOSE || index.id.length <= 3;
function nearOf(line, k) {
  const out = [];
  if (showsReadings(k)) readingDots(line.readings, ...levelRange(line)).forEach((dot) => out.push(["readings", choosable(dot, k)]));
  if (map.getZoom() < CLOSE && k !== chosen) return out;
  for (const stop of stopsByPlace(line.next)) {
    const style = { radius: 9, color: looks.survey, weight: 2.5, fillColor: "#fff", fillOpacity: 1 };
    const says = tip(`${line.id}: listen next, ${stop.says[0]}`, stop.says[1], stop.says[2]);
    out.push(["next", L.circleMarker(stop.at, style).bindTooltip(says)], ["next", tag(stop.at, stop.says[0], "number")]);
  }
  if (k === chosen) walkTags(line).forEach((mark) => out.push(["bracket", mark]));
  return out;
}
function stopsByPlace(stops) {
  const places = new Map();
  for (const { at, says } of stops) {
    const twin = places.get(String(at));
    if (twin) twin.says[0] += "," + says[0];
    else if (at) places.set(String(at), { at, says: [...says] });
  }
  return [...places.values()];
}
function walkTags(line) {
  return line.bracket.filter((row) => row.at && row.says[0]).map(({ at, says }) => {
    const part = at[Math.floor(at.length / 2)], k = Math.floor((part.length - 1) / 2);
    const [a, b] = [part[k], part[Math.min(k + 1, part.length - 1)]];
    return tag([(a[0] + b[0]) / 2, (a[1] + b[1]) / 2], "walk " + says[0], "walk");
  });
}
