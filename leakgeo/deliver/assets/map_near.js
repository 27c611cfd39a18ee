/* Readings, next stops and the walking order: drawn only if few lines are in view. */
const RADIUS = [3, 9];
/* Size grows with the level as the colour does, so that the rise is seen without colour. */
function levelRadius(db, low, high) {
  const close = map.getZoom() >= CLOSE ? 1 : 0.6;
  if (db === null) return RADIUS[0] * close;
  const share = high > low ? Math.min(Math.max((db - low) / (high - low), 0), 1) : 0.5;
  return (RADIUS[0] + share * share * (RADIUS[1] - RADIUS[0])) * close;
}
function readingSays(readings, k) {
  const level = readings.db[k] === null ? w.no_level : readings.db[k].toFixed(1).replace(".", head.units.decimal) + " dB";
  return [readings.id[k] || w.a_reading, level, readings.used[k] ? readings.why[k] : `${w.not_used}: ${readings.why[k] || w.no_reason}`];
}
/* Readings at their place on the pipe, the loudest on top. */
function readingDots(readings, low, high) {
  const order = [...readings.at.keys()].filter((k) => readings.at[k]);
  order.sort((a, b) => readings.used[a] - readings.used[b] || readings.db[a] - readings.db[b]);
  return order.map((k) => {
    const style = readings.used[k]
      ? { radius: levelRadius(readings.db[k], low, high), color: looks.ink, weight: 0.8, fillColor: levelColour(readings.db[k], low, high), fillOpacity: 1 }
      : { radius: RADIUS[0], color: "#555", weight: 1.5, fillColor: "#fff", fillOpacity: 0.2 };
    return L.circleMarker(readings.at[k], style).bindTooltip(tip(...readingSays(readings, k)));
  });
}
/* Fixes as recorded, each with a thin line to its place on the pipe; off until switched on in the legend. */
let showFixes = false;
function fixDots(readings) {
  if (!showFixes) return [];
  return readings.fix.flatMap((fix, k) => (!fix ? [] : [
    L.polyline([fix, readings.at[k]], { color: "#555", weight: 1, dashArray: "2 3", interactive: false }),
    L.circleMarker(fix, { radius: 3, color: "#555", weight: 1.5, fillColor: "#fff", fillOpacity: 1 }).bindTooltip(tip(w.fix, ...readingSays(readings, k))),
  ]));
}
function tag(at, text, kind) {
  const icon = L.divIcon({ html: el("span", {}, text), className: "tag " + (kind || ""), iconSize: null });
  return L.marker(at, { icon, interactive: false, keyboard: false });
}
/* Readings are drawn at high zoom only: at low zoom they would hide the marks. */
const showsReadings = (k) => k === chosen || map.getZoom() >= CLOSE || index.id.length <= 3;
function nearOf(line, k) {
  const out = [];
  if (showsReadings(k)) fixDots(line.readings).forEach((dot) => out.push(["readings", dot]));
  if (showsReadings(k)) readingDots(line.readings, ...levelRange(line)).forEach((dot) => out.push(["readings", choosable(dot, k)]));
  if (map.getZoom() < CLOSE && k !== chosen) return out;
  for (const stop of stopsByPlace(line.next)) {
    const style = { radius: 9, color: looks.survey, weight: 2.5, fillColor: "#fff", fillOpacity: 1 };
    const says = tip(`${line.id}: ${w.listen_at}, ${stop.says[0]}`, stop.says[1], stop.says[2]);
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
    return tag([(a[0] + b[0]) / 2, (a[1] + b[1]) / 2], `${w.walk} ${says[0]}`, "walk");
  });
}
