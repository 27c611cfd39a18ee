/* Draws a leakgeo result on a Leaflet map, with a list of lines and a panel for each.
   Text from the data only ever goes in as text, never as markup. */
"use strict";
var leakgeoMap = (function () {
  const NS = "http://www.w3.org/2000/svg";
  const byId = (id) => document.getElementById(id);
  let map, groups, data, looks, chosen = -1, drawn = new Map();

  /* ---- small helpers ---- */
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
  const zoneColour = (rank) => looks.zones[Math.min(Math.max(rank, 1), looks.zones.length) - 1];
  function levelColour(db, low, high) {
    if (db === null) return "#9a9a9a";
    const share = high > low ? (db - low) / (high - low) : 0.5;
    return looks.levels[Math.round(share * (looks.levels.length - 1))];
  }
  function levelRange(line) {
    const used = line.readings.db.filter((v, k) => v !== null && line.readings.used[k]);
    return used.length ? [Math.min(...used), Math.max(...used)] : [0, 1];
  }
  const look = (kind) => looks.utilities[kind] || looks.utilities.unknown;
  const lines = (...texts) => () => {
    const box = el("div");
    texts.flat().filter(Boolean).forEach((text, k) => box.append(el(k ? "div" : "b", {}, text)));
    return box;
  };

  /* ---- drawing on the canvas: hatches and crosses, which Leaflet lacks ---- */
  function hatch(ctx, { colour, size }) {
    const tile = document.createElement("canvas"), pen = tile.getContext("2d");
    tile.width = tile.height = size;
    pen.strokeStyle = colour;
    pen.beginPath();
    for (const shift of [-size, 0, size]) { pen.moveTo(shift - 2, size + 2); pen.lineTo(shift + size + 2, -2); }
    pen.stroke();
    return ctx.createPattern(tile, "repeat");
  }
  const plainFill = L.Canvas.prototype._fillStroke;
  L.Canvas.include({
    _fillStroke(ctx, layer) {
      plainFill.call(this, ctx, layer);
      if (!layer.options.hatch) return;
      ctx.globalAlpha = 1;
      ctx.fillStyle = hatch(ctx, layer.options.hatch);
      ctx.fill("evenodd");
    },
    _updateCross(layer) {
      if (!this._drawing || layer._empty()) return;
      const { x, y } = layer._point, ctx = this._ctx, r = layer.options.radius;
      ctx.globalAlpha = 1;
      for (const [colour, width] of [["#fff", 6], [looks.ink, 2.5]]) {
        ctx.strokeStyle = colour; ctx.lineWidth = width;
        ctx.setLineDash([]);
        ctx.beginPath();
        ctx.arc(x, y, r * 0.62, 0, 7);
        if (layer.options.arms) { ctx.moveTo(x - r, y); ctx.lineTo(x + r, y); ctx.moveTo(x, y - r); ctx.lineTo(x, y + r); }
        ctx.stroke();
      }
    },
  });
  const Cross = L.CircleMarker.extend({ _updatePath() { this._renderer._updateCross(this); } });

  /* ---- what is always on the map ---- */
  const PIPES = {
    located: { weight: 4 }, narrow_further: { weight: 4, dashArray: "12 5" },
    ambiguous: { weight: 4, dashArray: "12 5" }, no_leak_heard: { weight: 2 },
    rejected: { weight: 3, dashArray: "2 6" },
  };
  function choosable(layer, index) {
    return layer.on("click", (event) => { L.DomEvent.stop(event); openLine(index, true); });
  }
  function addPipe(line, index) {
    if (!line.pipe) return;
    const style = { color: looks.pipe, opacity: 1, ...(PIPES[line.status] || PIPES.rejected) };
    const pipe = L.polyline(line.pipe, style).bindTooltip(lines(line.id, line.says), { sticky: true });
    choosable(pipe, index).addTo(groups.pipes);
  }
  function addZones(line, index) {
    for (const zone of [...line.zones].reverse()) {
      if (!zone.at) continue;
      const style = { color: "#5b0145", weight: 1.5, fillColor: zoneColour(zone.rank), fillOpacity: 0.75 };
      const shape = L.polygon(zone.at, style);
      shape.bindTooltip(lines(line.id, `Zone ${zone.rank}: ${zone.odds}`), { sticky: true });
      choosable(shape, index).addTo(groups.zones);
    }
  }
  function addDig(line, index) {
    if (line.digAt) {
      const style = line.located
        ? { color: looks.ink, weight: 2, fillColor: "#fff", fillOpacity: 0.6, hatch: { colour: "rgba(20,24,29,.4)", size: 10 } }
        : { color: looks.pipe, weight: 1.5, dashArray: "2 5", fillColor: "#fff", fillOpacity: 0.3 };
      const what = line.located ? "Proposed excavation: " + line.dig : "Not located yet: no excavation proposed";
      const shape = L.polygon(line.digAt, style);
      shape.bindTooltip(lines(line.id, what, line.brief), { sticky: true });
      choosable(shape, index).addTo(groups.dig);
    }
  }
  function addRequest(line, index) {
    if (line.request && line.request.at) {
      const tip = lines(line.id, "White line: the area to ask marks for", line.request.size);
      for (const [color, weight] of [[looks.ink, 4], ["#fff", 2]]) {
        choosable(L.polygon(line.request.at, { color, weight, dashArray: "9 5", fill: false }).bindTooltip(tip, { sticky: true }), index).addTo(groups.request);
      }
    }
    for (const other of line.others) {
      if (!other.at) continue;
      const style = { color: looks.ink, weight: 1.5, dashArray: "1 5", fillColor: "#fff", fillOpacity: 0.25 };
      choosable(L.polygon(other.at, style).bindTooltip(lines(line.id, other.says), { sticky: true }), index).addTo(groups.request);
    }
  }
  function addConflicts(line, index) {
    for (const conflict of line.conflicts) addConflict(line, conflict, index);
  }
  function addConflict(line, conflict, index) {
    if (!conflict.at) return;
    const colour = look(conflict.kind).colour;
    const style = conflict.unknown
      ? { color: colour, weight: 2.5, dashArray: "1 7", fillColor: colour, fillOpacity: 0.1 }
      : { color: colour, weight: 2, dashArray: "6 3", fillColor: colour, fillOpacity: 0.05, hatch: { colour: colour + "70", size: 22 } };
    const [name, clearance, severity, answer, action] = conflict.says;
    const tip = lines(name, `${severity}, clearance ${clearance}`, "answer: " + answer, action);
    choosable(L.polygon(conflict.at, style).bindTooltip(tip, { sticky: true }), index).addTo(groups.conflicts);
  }
  function addMark(line, index) {
    if (!line.mark || !line.mark.at) return;
    if (line.mark.ring) {
      const style = { color: looks.ink, weight: 2, dashArray: "5 4", fill: false, interactive: false };
      L.polygon(line.mark.ring, style).addTo(groups.marks);
    }
    const tip = lines(line.id, line.where, line.error, line.dig, line.brief);
    const cross = new Cross(line.mark.at, { radius: 12, arms: line.located }).bindTooltip(tip);
    line.cross = choosable(cross, index).addTo(groups.marks);
  }
  function addUtility(utility) {
    const { colour, dash } = look(utility.kind);
    const tip = lines(utility.says);
    const style = { color: colour, weight: 4, dashArray: dash.join(" "), fillOpacity: 0.15 };
    let shape;
    if (utility.shape === "Point") shape = L.circleMarker(utility.at, { ...style, radius: 6 });
    else if (utility.shape === "Polygon") shape = L.polygon(utility.at, style);
    else {
      L.polyline(utility.at, { color: looks.ink, weight: 6, opacity: 0.45, interactive: false }).addTo(groups.utilities);
      shape = L.polyline(utility.at, style);
    }
    shape.bindTooltip(tip, { sticky: true }).addTo(groups.utilities);
  }
  function addFitting(fitting) {
    const style = { radius: 6, color: looks.ink, weight: 2, fillColor: "#fff", fillOpacity: 1 };
    L.circleMarker(fitting.at, style).bindTooltip(lines(fitting.says)).addTo(groups.fittings);
  }
  function addBracket(line) {
    for (const at of line.bracket) {
      if (at) L.polyline(at, { color: looks.survey, weight: 9, opacity: 0.25, interactive: false }).addTo(groups.bracket);
    }
  }

  /* ---- readings and next stops: drawn for the lines in view alone ---- */
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
      dots.push(L.circleMarker(at, style).bindTooltip(lines(readings.id[k] || "reading", level, why)));
    });
    return dots;
  }
  function tag(at, text, kind) {
    const icon = L.divIcon({ html: el("span", {}, text), className: "tag " + (kind || ""), iconSize: null });
    return L.marker(at, { icon, interactive: false, keyboard: false });
  }
  function detailOf(index) {
    const line = data.lines[index], stops = [];
    const show = map.getZoom() >= CLOSE || index === chosen;
    for (const stop of show ? stopsByPlace(line.next) : []) {
      const style = { radius: 9, color: looks.survey, weight: 2.5, fillColor: "#fff", fillOpacity: 1 };
      const tip = lines(`${line.id}: listen next, ${stop.says[0]}`, stop.says[1], stop.says[2]);
      stops.push(L.circleMarker(stop.at, style).bindTooltip(tip), tag(stop.at, stop.says[0], "number"));
    }
    return { readings: readingDots(line.readings, ...levelRange(line)), next: stops };
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
  function showDetail(index) {
    const detail = detailOf(index);
    detail.readings.forEach((dot) => choosable(dot, index).addTo(groups.readings));
    detail.next.forEach((stop) => stop.addTo(groups.next));
    drawn.set(index, detail);
  }
  function hideDetail(index) {
    const detail = drawn.get(index);
    detail.readings.forEach((dot) => groups.readings.removeLayer(dot));
    detail.next.forEach((stop) => groups.next.removeLayer(stop));
    drawn.delete(index);
  }
  const MOST_IN_DETAIL = 40, CLOSE = 20;
  let wasClose = null, wasChosen = -1;
  function refreshDetail() {
    const close = map.getZoom() >= CLOSE;
    if (close !== wasClose || chosen !== wasChosen) [...drawn.keys()].forEach(hideDetail);
    [wasClose, wasChosen] = [close, chosen];
    const view = map.getBounds().pad(0.2), seen = [];
    data.lines.forEach((line, k) => { if (line.bounds && view.intersects(line.bounds)) seen.push(k); });
    const wanted = new Set(seen.length <= MOST_IN_DETAIL ? seen : []);
    if (chosen >= 0) wanted.add(chosen);
    for (const index of [...drawn.keys()]) if (!wanted.has(index)) hideDetail(index);
    for (const index of wanted) if (!drawn.has(index)) showDetail(index);
    seen.forEach((k) => { if (data.lines[k].cross) data.lines[k].cross.bringToFront(); });
    refreshTags();
  }

  /* ---- letters on utilities and names of marks ---- */
  const tags = L.layerGroup();
  let taken = [];
  function addTag(point, text) {
    const width = 12 + 7 * Math.min(text.length, 22);
    if (taken.some((t) => Math.abs(t.x - point.x) < (t.width + width) / 2 && Math.abs(t.y - point.y) < 17)) return;
    taken.push({ x: point.x, y: point.y, width });
    tags.addLayer(tag(map.layerPointToLatLng(point), text));
  }
  function refreshTags() {
    tags.clearLayers();
    taken = [];
    const box = L.bounds(map.containerPointToLayerPoint([0, 0]), map.containerPointToLayerPoint(map.getSize()));
    if (map.hasLayer(groups.marks)) tagMarks();
    if (map.hasLayer(groups.utilities)) data.utilities.slice(0, 500).forEach((u, k) => tagUtility(u, box, 0.04 + 0.06 * (k % 7)));
  }
  function tagMarks() {
    const view = map.getBounds();
    const near = data.lines.filter((line) => line.mark && line.mark.at && view.contains(line.mark.at));
    if (near.length > 40) return;
    near.forEach((line) => addTag(map.latLngToLayerPoint(line.mark.at).add([0, -24]), line.id));
  }
  function tagUtility(utility, box, share) {
    if (utility.shape === "Point") {
      const spot = map.latLngToLayerPoint(utility.at);
      if (box.contains(spot)) addTag(spot.add([0, -15]), utility.letter);
    }
    if (utility.shape === "Polygon") {
      const ring = L.bounds(utility.at[0][0].map((at) => map.latLngToLayerPoint(at)));
      if (box.intersects(ring)) addTag(ring.getCenter(), utility.letter);
    }
    if (utility.shape !== "LineString" && utility.shape !== "Line") return;
    for (const part of utility.at) {
      const points = part.map((at) => map.latLngToLayerPoint(at));
      for (let k = 1; k < points.length; k++) {
        const cut = L.LineUtil.clipSegment(points[k - 1], points[k], box, false, true);
        if (!cut || cut[0].distanceTo(cut[1]) < 80) continue;
        const spot = cut[0].multiplyBy(1 - share).add(cut[1].multiplyBy(share));
        addTag(spot, utility.letter);
      }
    }
  }

  /* ---- list ---- */
  function badge(line) {
    const kind = line.holds.length ? "hold" : line.mark ? "ready" : "none";
    return el("span", { class: "badge " + kind }, holdText(line));
  }
  function holdText(line) {
    const count = line.holds.length;
    return count ? `${line.dig}: ${count} ${count === 1 ? "reason" : "reasons"}` : line.dig;
  }
  function entry(line, index) {
    const button = el("button", { class: "entry", type: "button", "data-line": index },
      el("span", { class: "top" }, el("span", { class: "name", dir: "auto" }, line.id), badge(line)),
      el("span", { class: "where" }, line.where),
      line.odds.length ? el("span", { class: "soft" }, line.odds[0]) : null,
      line.holds.length ? el("span", { class: "soft" }, "Held by: " + line.brief.join("; ")) : null,
      line.mark || !line.message ? null : el("span", { class: "soft" }, line.message));
    button.addEventListener("click", () => openLine(index, true));
    line.entry = el("li", {}, button);
    return line.entry;
  }
  function buildList() {
    byId("lg-list").append(...data.lines.map(entry));
    byId("lg-tally").textContent = data.tally;
    const statuses = [...new Map(data.lines.map((l) => [l.status, l.says]))];
    const pick = byId("lg-status");
    pick.append(el("option", { value: "" }, "Every status"), ...statuses.map(([v, t]) => el("option", { value: v }, t)));
    byId("lg-search").addEventListener("input", filterList);
    pick.addEventListener("change", filterList);
    byId("lg-find").hidden = data.lines.length < 8;
  }
  function filterList() {
    const word = byId("lg-search").value.trim().toLowerCase(), status = byId("lg-status").value;
    for (const line of data.lines) {
      line.entry.hidden = (status && line.status !== status) || !line.id.toLowerCase().includes(word);
    }
  }

  /* ---- panel ---- */
  function openLine(index, move) {
    chosen = index;
    const line = data.lines[index], panel = byId("lg-panel");
    panel.replaceChildren(...panelParts(line, index));
    panel.hidden = false;
    panel.setAttribute("tabindex", "-1");
    byId("lg-lines").hidden = true;
    const still = !move || matchMedia("(prefers-reduced-motion: reduce)").matches;
    if (line.focus) map.fitBounds(line.focus, { padding: [40, 40], maxZoom: 23, animate: !still });
    if (move) { panel.focus({ preventScroll: true }); byId("lg-side").scrollTop = 0; window.scrollTo(0, 0); }
    refreshDetail();
    fillFooter();
  }
  function closeLine() {
    const line = data.lines[chosen];
    chosen = -1;
    byId("lg-panel").hidden = true;
    byId("lg-lines").hidden = false;
    if (line) line.entry.firstChild.focus();
    refreshDetail();
    fillFooter();
  }
  function panelParts(line, index) {
    const back = el("button", { class: "back", type: "button" }, "\u2190 All lines");
    back.addEventListener("click", closeLine);
    return [
      data.lines.length > 1 ? back : null,
      el("h2", { dir: "auto" }, line.id),
      line.mark ? el("p", { class: "mark" }, line.where) : el("p", { class: "mark" }, line.says),
      line.error ? el("p", {}, line.error) : null,
      ...(line.mark ? line.mark.spots.map((spot) => el("p", { class: "soft" }, spot)) : []),
      holdsBox(line),
      line.odds.length ? el("h3", {}, "How sure") : null,
      line.odds.length ? bullets([...line.odds, line.limit].filter(Boolean)) : null,
      line.message ? el("p", {}, line.message) : null,
      ...plotParts(line, index),
      ...conflictParts(line),
      ...line.others.map((other) => el("p", {}, other.says)),
      ...requestParts(line),
      ...tableParts("Listen next", ["No.", "From the start", "Why"], line.next.map((n) => n.says)),
      ...tableParts("The line", ["", ""], line.facts),
      el("p", { class: "soft" }, data.meaning),
    ].filter(Boolean);
  }
  function bullets(texts) { return el("ul", {}, ...texts.map((text) => el("li", {}, text))); }
  function conflictParts(line) {
    if (!line.conflicts.length) return [];
    const items = line.conflicts.map(({ says: [name, clearance, severity, answer, action] }) =>
      el("li", {}, el("b", {}, name), `: ${severity}, clearance ${clearance}; answer: ${answer}`, action ? `; to do: ${action}` : ""));
    return [el("h3", {}, "Utilities in conflict"), el("ul", {}, ...items)];
  }
  function requestParts(line) {
    const ask = line.request;
    if (!ask) return [];
    return [
      ...tableParts("Locate request: white line", ["", "Latitude, longitude (WGS 84)"], ask.places),
      el("p", {}, ask.size),
      ...tableParts("Find the mark again by tape", ["From", "Distance", "Going (grid)"], ask.ties),
      ask.note ? el("p", { class: "soft" }, ask.note) : null,
    ].filter(Boolean);
  }
  function holdsBox(line) {
    const box = el("div", { class: "holds" + (line.holds.length ? "" : " ready") }, el("b", {}, line.dig));
    if (line.holds.length) box.append(bullets(line.holds));
    if (line.cautions.length) box.append(el("b", {}, "Mind"), bullets(line.cautions));
    box.append(el("p", { class: "soft" }, "Nothing recorded here clears the dig."));
    return box;
  }
  function tableParts(title, heads, rows) {
    if (!rows.length) return [];
    const table = el("table", {});
    if (heads.some(Boolean)) table.append(el("tr", {}, ...heads.map((h) => el("th", { scope: "col" }, h))));
    rows.forEach((row) => table.append(el("tr", {}, ...row.map((cell) => el("td", { dir: "auto" }, cell)))));
    return [el("h3", {}, title), table];
  }

  /* ---- the profile plot ---- */
  function plotParts(line, index) {
    const xs = finite([...line.profile.x, ...line.readings.x]);
    if (xs.length < 2) return [];
    const whole = [Math.min(...xs), Math.max(...xs)], near = nearMark(line, whole);
    const box = el("div", { id: "lg-plot" }, plot(line, whole));
    if (!near) return [el("h3", {}, "Sound along the line"), box];
    const buttons = [["Whole line", whole], ["Near the likeliest", near]].map(([text, range], k) => {
      const button = el("button", { type: "button", "aria-pressed": String(k === 0) }, text);
      button.addEventListener("click", () => {
        buttons.forEach((b) => b.setAttribute("aria-pressed", String(b === button)));
        box.replaceChildren(plot(line, range));
      });
      return button;
    });
    return [el("h3", {}, "Sound along the line"), el("div", { class: "views" }, ...buttons), box];
  }
  function nearMark(line, whole) {
    const ends = finite(line.zones.slice(0, 1).flatMap((zone) => zone.x));
    if (ends.length < 2) return null;
    const room = Math.max(2 * (ends[1] - ends[0]), 2);
    const near = [Math.max(ends[0] - room, whole[0]), Math.min(ends[1] + room, whole[1])];
    return near[1] - near[0] < 0.8 * (whole[1] - whole[0]) ? near : null;
  }
  function niceStep(span, most) {
    const rough = span / most, ten = Math.pow(10, Math.floor(Math.log10(rough)));
    return [1, 2, 5, 10].map((k) => k * ten).find((step) => step >= rough);
  }
  function ticks(low, high, most) {
    const step = niceStep(high - low || 1, most), out = [];
    for (let k = Math.ceil(low / step - 1e-9); k * step <= high + 1e-9 * step; k++) out.push(+(k * step).toPrecision(12));
    return out;
  }
  const W = 376, H = 310, LEFT = 36, RIGHT = 8, TOP = 22, MID = 190, GAP = 24, BASE = 262;
  function plot(line, range) {
    const { x: px, db, sd, density } = line.profile, r = line.readings;
    const inside = (x) => x !== null && x >= range[0] - 1e-9 && x <= range[1] + 1e-9;
    const X = (x) => LEFT + ((x - range[0]) / (range[1] - range[0] || 1)) * (W - LEFT - RIGHT);
    const levels = finite([...db.flatMap((v, k) => (v === null || !inside(px[k]) ? [] : [v - 2 * (sd[k] || 0), v + 2 * (sd[k] || 0)])),
      ...r.db.filter((v, k) => inside(r.x[k]))]);
    const low = levels.length ? Math.min(...levels) : 0, high = levels.length ? Math.max(...levels) : 1;
    const Y = (v) => MID - ((v - low) / (high - low || 1)) * (MID - TOP);
    const peak = Math.max(...finite(density.filter((v, k) => inside(px[k]))), 1e-9);
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
    return `Profile of ${line.id}: sound level in decibels and leak density against distance from the start. ${line.where}. ${line.odds.join(". ")}`;
  }
  function drawZones(root, line, range, X) {
    for (const zone of line.zones) {
      const [a, b] = [Math.max(zone.x[0], range[0]), Math.min(zone.x[1], range[1])];
      if (zone.x[0] === null || zone.x[1] === null || b <= a) continue;
      root.append(svg("rect", { x: X(a), y: TOP, width: Math.max(X(b) - X(a), 1), height: BASE - TOP, fill: zoneColour(zone.rank), opacity: 0.45 }));
    }
  }
  function drawAxes(root, range, X, span, Y) {
    const foot = data.units.metres;
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
    root.append(svg("text", { x: 2, y: 12 }, "sound level, dB"), svg("text", { x: LEFT, y: MID + 14 }, "leak density"),
      svg("text", { x: (LEFT + W - RIGHT) / 2, y: H - 10, "text-anchor": "middle" }, `distance from the start, ${data.units.name}`));
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
    if (!line.mark || !inside(line.mark.x)) return;
    const at = X(line.mark.x);
    root.append(svg("line", { x1: at, y1: TOP - 4, x2: at, y2: BASE, stroke: "#14181d", "stroke-width": 2, "stroke-dasharray": "6 3" }),
      svg("text", { x: Math.min(Math.max(at, 60), W - 30), y: 13, "text-anchor": "middle", "font-weight": 700 }, line.located ? "mark" : "likeliest"));
  }

  /* ---- footer, legend, start ---- */
  function heldNames(held) {
    const names = held.slice(0, 12).map((line) => `${line.id} (${line.holds.length})`).join(", ");
    return held.length > 12 ? `${names} and ${held.length - 12} more; see the list` : names;
  }
  let footerOpen = window.innerWidth > 760;
  function fillFooter() {
    const held = (chosen >= 0 ? [data.lines[chosen]] : data.lines).filter((line) => line.holds.length);
    const top = [el("b", {}, data.caution[0])];
    if (held.length === 1) top.push(el("div", {}, el("b", {}, held[0].id + " is held: "), held[0].holds.join("; ")));
    else if (held.length) top.push(el("div", {}, el("b", {}, `${held.length} places are held: `), heldNames(held)));
    const from = [data.readings, ...data.footer.map(([k, v]) => `${k}: ${v}`)].join(" \u00b7 ");
    const box = el("details", {}, el("summary", {}, ...top), el("div", {}, data.caution[1]), el("div", { class: "from" }, from));
    box.open = footerOpen;
    box.addEventListener("toggle", () => { footerOpen = box.open; });
    byId("lg-footer").replaceChildren(box);
  }
  function swatch(draw) {
    const box = svg("svg", { width: 34, height: 14, "aria-hidden": "true" });
    box.append(...draw);
    return box;
  }
  function row(text, ...draw) { return el("div", {}, swatch(draw), el("span", {}, text)); }
  function strip(colour, dash, width) {
    return svg("line", { x1: 0, y1: 7, x2: 34, y2: 7, stroke: colour, "stroke-width": width || 4, "stroke-dasharray": dash });
  }
  function dot(fill, stroke, cx, r) { return svg("circle", { cx: cx || 17, cy: 7, r: r || 5, fill, stroke, "stroke-width": 1.5 }); }
  function legendRows() {
    const rows = [
      row("mark, with its 95 % ellipse", svg("path", { d: "M17 0v14M10 7h14", stroke: looks.ink, "stroke-width": 2.5 }),
        svg("ellipse", { cx: 17, cy: 7, rx: 15, ry: 6, fill: "none", stroke: looks.ink, "stroke-dasharray": "3 2" })),
      row("likeliest place so far: no mark yet", svg("circle", { cx: 17, cy: 7, r: 5.5, fill: "none", stroke: looks.ink, "stroke-width": 2 })),
      row("search zone, the darker the likelier", ...looks.zones.map((c, k) => svg("rect", { x: k * 8.5, y: 1, width: 8.5, height: 12, fill: c, stroke: "#5b0145", "stroke-width": 0.5 }))),
      row("reading: quiet to loud on its line", ...[0, 4, 8].map((k, n) => dot(looks.levels[k], "#fff", 6 + n * 11))),
      row("reading not used", dot("#fff", "#555")),
      row("where to listen next, in order", dot("#fff", looks.survey, 17, 6)),
      row("proposed excavation", svg("rect", { x: 4, y: 1, width: 26, height: 12, fill: "#fff", stroke: looks.ink, "stroke-width": 1.5 }), svg("path", { d: "M6 13l10-12M14 13l10-12M22 13l8-10", stroke: "#777" })),
      row("white line: where to ask marks for", svg("rect", { x: 3, y: 1.5, width: 28, height: 11, fill: "none", stroke: looks.ink, "stroke-width": 1.6, "stroke-dasharray": "6 3" })),
      row("pipe with a mark", strip(looks.pipe, "")),
      row("pipe: listen more", strip(looks.pipe, "12 5")),
      row("pipe: no leak heard", strip(looks.pipe, "", 2)),
      row("pipe: not worked out", strip(looks.pipe, "2 6", 3)),
    ];
    if (data.utilities.length || data.lines.some((line) => line.conflicts.length)) {
      for (const u of Object.values(looks.utilities)) rows.push(row(`${u.letter}  ${u.name}`, strip(u.colour, u.dash.join(" "))));
      rows.push(row("utility in conflict", svg("rect", { x: 4, y: 1, width: 26, height: 12, fill: "none", stroke: "#5c5c5c", "stroke-width": 2, "stroke-dasharray": "5 2" })));
      rows.push(row("utility of unknown position (letter and ?)", svg("rect", { x: 4, y: 1, width: 26, height: 12, fill: "#5c5c5c22", stroke: "#5c5c5c", "stroke-width": 2.5, "stroke-dasharray": "1 4", "stroke-linecap": "round" })));
    }
    return rows;
  }
  function addLegend() {
    const control = L.control({ position: "bottomright" });
    control.onAdd = () => {
      const box = el("details", { class: "legend" }, el("summary", {}, "Legend"), ...legendRows());
      box.open = map.getSize().x > 1050;
      L.DomEvent.disableClickPropagation(box).disableScrollPropagation(box);
      return box;
    };
    control.addTo(map);
  }
  const usedPlaces = (readings) => readings.at.filter((at, k) => readings.used[k]);
  function boundsOf(...shapes) {
    const flat = shapes.flat(9).filter((v) => typeof v === "number"), points = [];
    for (let k = 0; k + 1 < flat.length; k += 2) points.push([flat[k], flat[k + 1]]);
    return points.length ? L.latLngBounds(points) : null;
  }
  function measure(line) {
    line.bounds = boundsOf(line.pipe, line.zones.map((z) => z.at), usedPlaces(line.readings), line.mark && line.mark.at);
    line.focus = boundsOf(line.zones.map((z) => z.at), line.located && line.digAt, line.mark && line.mark.at) || line.bounds;
  }
  function drawAll() {
    const each = (draw) => data.lines.forEach(draw);
    data.utilities.forEach(addUtility);
    each(addBracket); each(addPipe); each(addConflicts); each(addRequest); each(addDig); each(addZones);
    data.fittings.forEach(addFitting);
    readingDots(data.loose, 0, 1).forEach((dot) => dot.addTo(groups.readings));
    each(addMark);
  }
  function fitAll() {
    const all = boundsOf(data.lines.flatMap((l) => (l.bounds ? [[l.bounds.getSouth(), l.bounds.getWest()], [l.bounds.getNorth(), l.bounds.getEast()]] : [])));
    if (all) map.fitBounds(all, { padding: [30, 30], maxZoom: 22, animate: false });
  }
  return function start(leafletMap, layerGroups, content) {
    [map, groups, data, looks] = [leafletMap, layerGroups, content, content.looks];
    map.setMaxZoom(24);
    map.attributionControl.setPrefix(false);
    L.control.scale({ metric: !data.units.us, imperial: data.units.us, maxWidth: 160 }).addTo(map);
    data.lines.forEach(measure);
    buildList();
    addLegend();
    fitAll();
    drawAll();
    tags.addTo(map);
    refreshDetail();
    map.on("moveend overlayadd overlayremove", refreshDetail);
    document.addEventListener("keydown", (event) => { if (event.key === "Escape" && chosen >= 0 && data.lines.length > 1) closeLine(); });
    fillFooter();
    if (data.lines.length === 1) openLine(0, false);
  };
})();
