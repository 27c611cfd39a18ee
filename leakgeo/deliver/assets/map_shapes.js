/* All layers of one line except its readings, as pairs of group and layer. */
const PIPES = {
  located: { weight: 4 }, keep_listening: { weight: 4, dashArray: "12 5" },
  ambiguous: { weight: 4, dashArray: "12 5" }, other_source: { weight: 3, dashArray: "12 5" },
  beyond_end: { weight: 3, dashArray: "12 5" }, no_leak_heard: { weight: 2 },
  not_listened_to: { weight: 3, dashArray: "2 6" },
  rejected: { weight: 3, dashArray: "2 6" },
};
const pipeStyle = (status) => ({ color: looks.pipe, opacity: 1, ...(PIPES[status] || PIPES.rejected) });
function choosable(layer, k) {
  return layer.on("click", (event) => { L.DomEvent.stop(event); openLine(k, true); });
}
function shapesOf(line, k) {
  const out = [];
  const add = (group, layer, ...texts) => {
    if (texts.length) layer.bindTooltip(tip(line.id, ...texts), { sticky: true });
    out.push([group, choosable(layer, k)]);
  };
  addBracket(line, add);
  if (line.pipe) {
    add("pipes", L.polyline(line.pipe, { ...pipeStyle(line.status), interactive: false }));
    add("pipes", L.polyline(line.pipe, { opacity: 0, weight: 16 }), line.says, line.mark ? "" : line.message);  // wide, invisible target for touch
  }
  for (const dig of digsOf(line)) {
    dig.conflicts.forEach((conflict) => addConflict(conflict, add));
    addRequest(dig, add);
    addDig(dig, add);
  }
  addZones(line, add);
  addFittings(line, add);
  addAir(line, add);
  digsOf(line).forEach((dig) => addMark(dig, add));
  return out;
}
function addBracket(line, add) {
  for (const { at, p, says } of line.bracket) {
    if (!at) continue;
    const style = { color: looks.survey, weight: 10, opacity: p === null ? 0.2 : 0.1 + 0.55 * p, lineCap: "butt" };
    add("bracket", L.polyline(at, style), `${w.walk_as} ${says[0]}: ${says[2]}, ${w.if_leaks}`, says[3]);
  }
}
function addZones(line, add) {
  for (const zone of [...line.zones].reverse()) {
    const style = { color: "#5b0145", weight: 1.5, fillColor: zoneColour(zone.rank), fillOpacity: 0.75 };
    if (zone.at) add("zones", L.polygon(zone.at, style), `${w.zone} ${zone.rank}: ${zone.odds}`);
  }
}
function addDig(line, add) {
  if (!line.digAt) return;
  const style = line.located
    ? { color: looks.ink, weight: 2, fillColor: "#fff", fillOpacity: 0.6, hatch: { colour: "rgba(20,24,29,.4)", size: 10 } }
    : { color: looks.pipe, weight: 1.5, dashArray: "2 5", fillColor: "#fff", fillOpacity: 0.3 };
  add("dig", L.polygon(line.digAt, style), line.located ? `${w.proposed}: ${line.dig}` : w.not_proposed, line.brief);
}
function addRequest(line, add) {
  if (line.request && line.request.at) {
    for (const [color, weight] of [[looks.ink, 4], ["#fff", 2]]) {
      add("request", L.polygon(line.request.at, { color, weight, dashArray: "9 5", fill: false }), w.white_line, line.request.size);
    }
  }
  for (const other of line.others) {
    const style = { color: looks.ink, weight: 1.5, dashArray: "1 5", fillColor: "#fff", fillOpacity: 0.25 };
    if (other.at) add("request", L.polygon(other.at, style), other.says);
  }
}
function addConflict(conflict, add) {
  if (!conflict.at) return;
  const colour = look(conflict.kind).colour;
  const style = conflict.unknown
    ? { color: colour, weight: 2.5, dashArray: "1 7", fillColor: colour, fillOpacity: 0.06 }
    : { color: colour, weight: 2, dashArray: "6 3", fillColor: colour, fillOpacity: 0.05, hatch: { colour: colour + "70", size: 22 } };
  // Yellow and orange alone would be lost on the light ground.
  add("conflicts", L.polygon(conflict.at, { ...style, color: looks.ink, weight: style.weight + 1.5, opacity: 0.45, fill: false, hatch: undefined, interactive: false }));
  const [name, clearance, severity, answer, action] = conflict.says;
  add("conflicts", L.polygon(conflict.at, style), name, `${severity}, ${w.clearance} ${clearance}`, `${w.answer}: ${answer}`, action);
}
function addFittings(line, add) {
  for (const fitting of line.fittings) if (fitting.at) add("fittings", fittingDot(fitting), ...fittingSays(fitting));
}
function fittingDot(fitting) {
  const fill = fitting.db === null ? "#fff" : levelColour(fitting.db, ...around.span);
  return L.circleMarker(fitting.at, { radius: 5.5, color: looks.ink, weight: 2, fillColor: fill, fillOpacity: 1 });
}
const fittingSays = ({ says }) => [says[1], says[2], says[0] && `${w.by_loudness}: ${says[0]}`];
function addAir(line, add) {
  for (const { at, verdict, says } of line.air) {
    const fill = verdict === "confirmed" ? looks.ink : "#fff";
    if (at) add("air", new Diamond(at, { radius: 7, color: looks.ink, weight: 2, fillColor: fill, fillOpacity: 1 }), `${w.air_test} ${says[0]}: ${says[1]}`, says[2]);
  }
}
function addMark(line, add) {
  if (!line.mark || !line.mark.at) return;
  if (line.mark.ring) add("marks", L.polygon(line.mark.ring, { color: looks.ink, weight: 2, dashArray: "5 4", fill: false, interactive: false }));
  const cross = new Cross(line.mark.at, { radius: 12, arms: line.located });
  add("marks", cross, line.where, line.error, `${line.dig}${line.brief.length ? ": " + line.brief.join("; ") : ""}`);
}
function shapesOfUtility(utility) {
  const { colour, dash } = look(utility.kind), out = [];
  const style = { color: colour, weight: 4, dashArray: dash.join(" "), fillOpacity: 0.15 };
  let shape;
  if (utility.shape === "Point") shape = L.circleMarker(utility.at[0], { ...style, radius: 6 });
  else if (utility.shape === "Polygon") shape = L.polygon(utility.at, style);
  else {
    out.push(["utilities", L.polyline(utility.at, { color: looks.ink, weight: 6, opacity: 0.45, interactive: false })]);
    shape = L.polyline(utility.at, style);
  }
  return [...out, ["utilities", shape.bindTooltip(tip(utility.says), { sticky: true })]];
}
