/* The profile plot: readings, level curve with its band, leak density, zones, mark. */
function plotParts(line) {
  const xs = finite([...line.profile.x, ...line.readings.x]);
  if (xs.length < 2) return [];
  const all = [least(xs, Infinity), most(xs, -Infinity)], close = nearMark(line, all);
  const box = el("div", { id: "lg-plot" }, plot(line, all));
  if (!close) return [el("h3", {}, w.sound), box];
  const buttons = [[w.whole_line, all], [w.near_likeliest, close]].map(([text, range], k) => {
    const button = el("button", { type: "button", "aria-pressed": String(k === 0) }, text);
    button.addEventListener("click", () => {
      buttons.forEach((b) => b.setAttribute("aria-pressed", String(b === button)));
      box.replaceChildren(plot(line, range));
    });
    return button;
  });
  return [el("h3", {}, w.sound), el("div", { class: "views" }, ...buttons), box];
}
function nearMark(line, all) {
  const ends = finite(line.zones.slice(0, 1).flatMap((zone) => zone.x));
  if (ends.length < 2) return null;
  const room = Math.max(2 * (ends[1] - ends[0]), 2);
  const close = [Math.max(ends[0] - room, all[0]), Math.min(ends[1] + room, all[1])];
  return close[1] - close[0] < 0.8 * (all[1] - all[0]) ? close : null;
}
function niceStep(span, count) {
  const rough = span / count, ten = Math.pow(10, Math.floor(Math.log10(rough)));
  return [1, 2, 5, 10].map((k) => k * ten).find((step) => step >= rough);
}
function ticks(low, high, count) {
  const step = niceStep(high - low || 1, count), out = [];
  for (let k = Math.ceil(low / step - 1e-9); k * step <= high + 1e-9 * step; k++) out.push(+(k * step).toPrecision(12));
  return out;
}
const W = 376, H = 310, LEFT = 36, RIGHT = 8, TOP = 22, MID = 190, GAP = 24, BASE = 262;
function plot(line, range) {
  const { x: px, db, sd, density } = line.profile, r = line.readings;
  const inside = (x) => x !== null && x >= range[0] - 1e-9 && x <= range[1] + 1e-9;
  const X = (x) => LEFT + ((x - range[0]) / (range[1] - range[0] || 1)) * (W - LEFT - RIGHT);
  const heard = finite([...db.flatMap((v, k) => (v === null || !inside(px[k]) ? [] : [v - 2 * (sd[k] || 0), v + 2 * (sd[k] || 0)])),
    ...r.db.filter((v, k) => inside(r.x[k]))]);
  const low = heard.length ? least(heard, Infinity) : 0, high = heard.length ? most(heard, -Infinity) : 1;
  const Y = (v) => MID - ((v - low) / (high - low || 1)) * (MID - TOP);
  const peak = most(finite(density.filter((v, k) => inside(px[k]))), 1e-9);
  const D = (v) => BASE - (v / peak) * (BASE - MID - GAP);
  const root = svg("svg", { viewBox: `0 0 ${W} ${H}`, class: "plot", role: "img", "aria-label": plotWords(line) });
  const at = px.map((x, k) => k).filter((k) => inside(px[k]));
  drawZones(root, line, range, X);
  drawAxes(root, range, X, [low, high], Y);
  const banded = at.filter((k) => db[k] !== null && sd[k] !== null);
  const band = [...banded.map((k) => [X(px[k]), Y(db[k] + 2 * sd[k])]), ...banded.reverse().map((k) => [X(px[k]), Y(db[k] - 2 * sd[k])])];
  if (band.length) root.append(svg("polygon", { points: band.join(" "), fill: "#2c728e", opacity: 0.22 }));
  root.append(svg("polyline", { points: at.filter((k) => db[k] !== null).map((k) => [X(px[k]), Y(db[k])]).join(" "), fill: "none", stroke: "#2c728e", "stroke-width": 1.8 }));
  drawDensity(root, at.filter((k) => density[k] !== null).map((k) => [X(px[k]), D(density[k])]));
  drawReadings(root, line, inside, X, Y);
  drawMark(root, line, inside, X);
  return root;
}
function plotWords(line) {
  return `${line.id}: ${w.profile_of}. ${line.where}. ${line.odds.join(". ")}`;
}
function drawZones(root, line, range, X) {
  for (const zone of line.zones) {
    const [a, b] = [Math.max(zone.x[0], range[0]), Math.min(zone.x[1], range[1])];
    if (zone.x[0] === null || zone.x[1] === null || b <= a) continue;
    root.append(svg("rect", { x: X(a), y: TOP, width: Math.max(X(b) - X(a), 1), height: BASE - TOP, fill: zoneColour(zone.rank), opacity: 0.45 }));
  }
}
function drawAxes(root, range, X, span, Y) {
  const foot = head.units.metres;
  const rule = (x1, y1, x2, y2, colour) => root.append(svg("line", { x1, y1, x2, y2, stroke: colour, "stroke-width": 1 }));
  ticks(span[0], span[1], 5).forEach((v) => {
    rule(LEFT, Y(v), W - RIGHT, Y(v), "#dfe3e7");
    root.append(svg("text", { x: LEFT - 5, y: Y(v) + 4, "text-anchor": "end" }, v));
  });
  ticks(range[0] / foot, range[1] / foot, 6).forEach((v) => {
    rule(X(v * foot), BASE, X(v * foot), BASE + 4, "#14181d");
    root.append(svg("text", { x: X(v * foot), y: BASE + 17, "text-anchor": "middle" }, v));
  });
  rule(LEFT, BASE, W - RIGHT, BASE, "#14181d");
  rule(LEFT, MID, W - RIGHT, MID, "#14181d");
  root.append(svg("text", { x: 2, y: 12 }, w.sound_level), svg("text", { x: LEFT, y: MID + 14 }, w.density),
    svg("text", { x: (LEFT + W - RIGHT) / 2, y: H - 10, "text-anchor": "middle" }, `${w.from_start_axis}, ${head.units.name}`));
}
function drawDensity(root, points) {
  if (!points.length) return;
  const closed = [[points[0][0], BASE], ...points, [points[points.length - 1][0], BASE]];
  root.append(svg("polygon", { points: closed.join(" "), fill: "#ae017e", opacity: 0.65 }));
}
function drawReadings(root, line, inside, X, Y) {
  const [low, high] = levelRange(line), { x, db, used } = line.readings;
  x.forEach((at, k) => {
    if (!inside(at) || db[k] === null) return;
    const paint = used[k] ? { fill: levelColour(db[k], low, high), stroke: "#14181d" } : { fill: "#fff", stroke: "#777" };
    root.append(svg("circle", { cx: X(at), cy: Y(db[k]), r: 3.6, "stroke-width": 0.8, ...paint }));
  });
  for (const stop of line.next) {
    if (!inside(stop.x)) continue;
    const at = X(stop.x);
    root.append(svg("path", { d: `M${at} ${MID}l-4 7h8z`, fill: "#fff", stroke: "#e6007e", "stroke-width": 1.4 }));
  }
}
function drawMark(root, line, inside, X) {
  for (const { mark, title } of digsOf(line)) {
    if (mark && inside(mark.x)) drawMarkLine(root, X(mark.x), line.located ? title || w.mark : w.likeliest);
  }
}
function drawMarkLine(root, at, text) {
  root.append(svg("line", { x1: at, y1: TOP - 4, x2: at, y2: BASE, stroke: "#14181d", "stroke-width": 2, "stroke-dasharray": "6 3" }),
    svg("text", { x: Math.min(Math.max(at, 60), W - 30), y: 13, "text-anchor": "middle", "font-weight": 700 }, text));
}

