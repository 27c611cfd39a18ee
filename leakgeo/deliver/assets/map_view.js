/* Drawing of the visible part of the map: clusters of many lines, or all layers of few lines. */
const ORDER = ["utilities", "pipes", "conflicts", "request", "dig", "zones", "fittings", "readings", "next", "air", "marks"];
const whole = new Map(), near = new Map(), beside = new Map();
let clusters = [], wanted = new Set(), wantedNear = new Set(), nearKey = "", waiting = null;

function show(store, k, pairs) {
  store.set(k, pairs);
  pairs.forEach(([group, layer]) => groups[group].addLayer(layer));
}
function hide(store, k) {
  store.get(k).forEach(([group, layer]) => groups[group].removeLayer(layer));
  store.delete(k);
}
function refresh() {
  const view = map.getBounds().pad(0.2), seen = linesIn(view), few = seen.length <= MOST_WHOLE;
  overviewPipes(seen, few);
  refreshUtilities(view);
  clusters.forEach((layer) => groups.marks.removeLayer(layer));
  clusters = few ? [] : clustersOf(seen).flatMap(clusterLayers);
  clusters.forEach((layer) => groups.marks.addLayer(layer));
  wanted = new Set(few ? seen : []);
  wantedNear = new Set(few && seen.length <= MOST_IN_DETAIL ? seen : []);
  if (chosen >= 0) { wanted.add(chosen); wantedNear.add(chosen); }
  const key = `${map.getZoom() >= CLOSE},${chosen},${showFixes}`;
  for (const k of [...whole.keys()]) if (!wanted.has(k)) hide(whole, k);
  for (const k of [...near.keys()]) if (!wantedNear.has(k) || key !== nearKey) hide(near, k);
  nearKey = key;
  drawSome();
}
/* Utilities are drawn only if not too many are in view. */
const MOST_UTILITIES = 300;
function refreshUtilities(view) {
  const seen = [];
  around.utilities.forEach((u, k) => { if (u.bounds && view.intersects(u.bounds)) seen.push(k); });
  const shown = new Set(seen.length <= MOST_UTILITIES ? seen : []);
  announceHidden(seen.length - shown.size);
  for (const k of [...beside.keys()]) if (!shown.has(k)) hide(beside, k);
  for (const k of shown) if (!beside.has(k)) show(beside, k, shapesOfUtility(around.utilities[k]));
}
/* All utilities or none are drawn: a part of them would look complete. */
function announceHidden(count) {
  const said = count && map.hasLayer(groups.utilities) ? `${count.toLocaleString(head.language)} ${w.not_drawn}` : "";
  if (byId("lg-hidden").textContent !== said) byId("lg-hidden").textContent = said;
}
/* Draw for some milliseconds at a time, so that the page stays responsive. */
function drawSome() {
  clearTimeout(waiting);
  const until = performance.now() + 12;
  let drew = false;
  for (const k of wanted) {
    if (whole.has(k) && (near.has(k) || !wantedNear.has(k))) continue;
    if (performance.now() > until) { waiting = setTimeout(drawSome, 0); break; }
    let here = true;
    withLine(k, (line) => { if (here) drawLine(line, k); else drawSoon(); });
    here = false;
    drew = true;
  }
  if (drew || clusters.length) ORDER.forEach((group) => groups[group].bringToFront());
  refreshTags();
}
function drawSoon() {
  clearTimeout(waiting);
  waiting = setTimeout(drawSome, 0);
}
function drawLine(line, k) {
  if (wanted.has(k) && !whole.has(k)) show(whole, k, shapesOf(line, k));
  if (wantedNear.has(k) && !near.has(k)) show(near, k, nearOf(line, k));
}
