/* Start: background, decoding of the data, list, legend and first view. */
function addBackground(control) {
  if (head.photo) {
    const photo = L.imageOverlay(head.photo.url, head.photo.bounds, { opacity: 0.9, alt: "aerial photo" }).addTo(map);
    control.addOverlay(photo, w.photo);
  }
  if (head.tiles) {
    const tiles = L.tileLayer(head.tiles.url, { maxZoom: 24, maxNativeZoom: 20 }).addTo(map);
    control.addOverlay(tiles, w.tiles);
  }
}
function fitAll() {
  const { boxes, id } = index, all = [Infinity, Infinity, -Infinity, -Infinity];
  for (let k = 0; k < 4 * id.length; k++) all[k % 4] = (k % 4 < 2 ? Math.min : Math.max)(all[k % 4], boxes[k]);
  if (all[0] <= all[2]) map.fitBounds([[all[1], all[0]], [all[3], all[2]]], { padding: [30, 30], maxZoom: 22, animate: false });
}
/* What a phone shows above and below the map, for the height that is left to it. */
function measureAround() {
  const high = byId("lg-side").querySelector("header").offsetHeight + byId("lg-footer").offsetHeight;
  document.documentElement.style.setProperty("--around", high + "px");
}
function begin() {
  index.pipes = index.pipe.map(points);
  index.marks = points(index.mark);
  index.further = new Map(index.more.map(({ line, at }) => [line, points(at)]));
  const heard = finite(around.fittings.map((f) => f.db));
  around.span = index.span || (heard.length ? [least(heard, Infinity), most(heard, -Infinity)] : [0, 1]);
  around.utilities.forEach((u) => { u.at = points(u.at); u.bounds = boundsOf(u.at); });
  around.fittings.forEach((f) => { f.at = point(f.at); });
  measureAll();
  buildList();
  fillFooter();  // first, as its height changes the size of the map
  measureAround();
  map.invalidateSize({ pan: false });
  addLegend();
  fitAll();
  around.fittings.forEach((f) => { if (f.at) fittingDot(f).bindTooltip(tip(fittingSays(f))).addTo(groups.fittings); });
  if (index.id.length <= MOST_WHOLE) readingDots(readingsOf(around.loose), 0, 1).forEach((dot) => dot.addTo(groups.readings));
  tags.addTo(map);
  map.on("moveend overlayadd overlayremove", refresh);
  document.addEventListener("keydown", (event) => { if (event.key === "Escape" && chosen >= 0 && index.id.length > 1) closeLine(); });
  window.addEventListener("hashchange", followAddress);
  refresh();
  if (window.ResizeObserver) new ResizeObserver(() => map.invalidateSize({ pan: false })).observe(map.getContainer());
  window.addEventListener("resize", measureAround);
  if (index.id.length === 1) showLine(0, false);
  followAddress();
  document.body.dataset.ready = "yes";
}
function start(leafletMap, layerGroups, control, content) {
  [map, groups, head, looks, w] = [leafletMap, layerGroups, content, content.looks, content.words];
  document.documentElement.style.setProperty("--layers", JSON.stringify(w.layers));
  map.setMaxZoom(24);
  map.attributionControl.setPrefix(false);
  document.body.classList.toggle("lg-blank", head.blank);
  L.control.scale({ metric: !head.units.us, imperial: head.units.us, maxWidth: 160 }).addTo(map);
  addBackground(control);
  layersByKeys(control);
  skipToMap();
  piece("index", (all) => { index = all; piece("around", (rest) => { around = rest; begin(); }); });
}
