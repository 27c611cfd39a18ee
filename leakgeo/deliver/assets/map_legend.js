/* The footer with the holds, and the legend. */
let footerOpen = window.innerWidth > 760;
function fillFooter() {
  const top = [el("b", {}, head.caution[0]), " ", el("span", { class: "recorded" }, head.recorded)];
  const from = [head.readings, ...head.footer.map(([k, v]) => `${k}: ${v}`), `${w.size}: ${String(head.megabytes).replace(".", head.units.decimal)}`];
  if (head.photo) from.push(`${w.photo}: ` + head.photo.name);
  const box = el("details", {}, el("summary", {}, ...top), el("div", {}, head.caution[1]),
    head.tiles ? el("div", {}, el("b", {}, `${w.asks_host}: ${head.tiles.host}`)) : null,
    el("div", { class: "from" }, from.join(" \u00b7 ")));
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
function strip(colour, dash, width, opacity) {
  return svg("line", { x1: 0, y1: 7, x2: 34, y2: 7, stroke: colour, "stroke-width": width || 4, "stroke-dasharray": dash, opacity: opacity || 1 });
}
function dot(fill, stroke, cx, r) { return svg("circle", { cx: cx || 17, cy: 7, r: r || 5, fill, stroke, "stroke-width": 1.5 }); }
function legendRows() {
  const rows = [
    row(w.l_mark, svg("path", { d: "M17 0v14M10 7h14", stroke: looks.ink, "stroke-width": 2.5 }),
      svg("ellipse", { cx: 17, cy: 7, rx: 15, ry: 6, fill: "none", stroke: looks.ink, "stroke-dasharray": "3 2" })),
    row(w.l_likeliest, svg("circle", { cx: 17, cy: 7, r: 5.5, fill: "none", stroke: looks.ink, "stroke-width": 2 })),
    row(w.l_zone, ...looks.zones.map((c, k) => svg("rect", { x: k * 8.5, y: 1, width: 8.5, height: 12, fill: c, stroke: "#5b0145", "stroke-width": 0.5 }))),
    row(w.l_reading, ...[0, 4, 8].map((k, n) => dot(looks.levels[k], looks.ink, [4, 13, 26][n], [2.5, 4, 6.5][n]))),
    row(w.l_unused, dot("#fff", "#555")),
    row(w.l_next, dot("#fff", looks.survey, 17, 6)),
    row(w.l_dig, svg("rect", { x: 4, y: 1, width: 26, height: 12, fill: "#fff", stroke: looks.ink, "stroke-width": 1.5 }), svg("path", { d: "M6 13l10-12M14 13l10-12M22 13l8-10", stroke: "#777" })),
    row(w.l_white, svg("rect", { x: 3, y: 1.5, width: 28, height: 11, fill: "none", stroke: looks.ink, "stroke-width": 1.6, "stroke-dasharray": "6 3" })),
    row(w.l_walk, ...[0.15, 0.35, 0.6].map((o, k) => svg("rect", { x: k * 11.3, y: 3, width: 11.3, height: 8, fill: looks.survey, opacity: o }))),
    row(w.l_fitting, ...[0, 4, 8].map((k, n) => dot(looks.levels[k], looks.ink, 6 + n * 11, 4.5))),
    row(w.l_air, svg("path", { d: "M10 1l6 6l-6 6l-6-6z", fill: "#fff", stroke: looks.ink, "stroke-width": 1.5 }), svg("path", { d: "M25 1l6 6l-6 6l-6-6z", fill: looks.ink, stroke: looks.ink, "stroke-width": 1.5 })),
    ...(index.id.length > MOST_WHOLE ? [row(w.l_cluster, dot("#fff", "#8b949e", 17, 5.5), svg("path", { d: "M17 1.5a5.5 5.5 0 0 1 5.5 5.5", fill: "none", stroke: looks.ink, "stroke-width": 2 }))] : []),
    row(w.l_pipe_mark, strip(looks.pipe, "")),
    row(w.l_pipe_open, strip(looks.pipe, "12 5")),
    row(w.l_pipe_quiet, strip(looks.pipe, "", 2)),
    row(w.l_pipe_none, strip(looks.pipe, "2 6", 3)),
  ];
  if (around.utilities.length) {
    for (const u of Object.values(looks.utilities)) rows.push(row(u.name, strip(looks.ink, "", 6, 0.45), strip(u.colour, u.dash.join(" "))));
    rows.push(row(w.l_conflict, svg("rect", { x: 4, y: 1, width: 26, height: 12, fill: "none", stroke: "#5c5c5c", "stroke-width": 2, "stroke-dasharray": "5 2" })));
    rows.push(row(w.l_unknown, svg("rect", { x: 4, y: 1, width: 26, height: 12, fill: "#5c5c5c22", stroke: "#5c5c5c", "stroke-width": 2.5, "stroke-dasharray": "1 4", "stroke-linecap": "round" })));
  }
  return rows;
}
function fixSwitch() {
  const box = el("input", { type: "checkbox", id: "lg-fixes" });
  box.addEventListener("change", () => { showFixes = box.checked; refresh(); });
  return el("label", { class: "switch" }, box, w.l_fix);
}
/* The legend starts as a button; on a narrow page and on paper it stands below the map and covers nothing. */
function addLegend() {
  const box = el("details", { class: "legend" }, el("summary", {}, w.legend), fixSwitch(), ...legendRows());
  const control = L.control({ position: "bottomright" }), narrow = matchMedia("(max-width: 760px), print");
  control.onAdd = () => el("div", {});
  control.addTo(map);
  L.DomEvent.disableClickPropagation(box).disableScrollPropagation(box);
  const place = () => (narrow.matches ? byId("lg-below") : control.getContainer()).append(box);
  narrow.addEventListener("change", place);
  place();
  byId("lg-below").setAttribute("aria-label", w.legend);
  let wasOpen = false;
  window.addEventListener("beforeprint", () => { wasOpen = box.open; box.open = true; });
  window.addEventListener("afterprint", () => { box.open = wasOpen; });
  closesByEscape(box, () => { box.open = false; return box.firstChild; });
}
