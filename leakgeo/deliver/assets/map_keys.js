/* What Leaflet leaves to the mouse: its list of layers, and the way past a long list of lines. */
function closesByEscape(box, close) {
  box.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    const next = close();
    if (next) { event.stopPropagation(); next.focus(); }
  });
}
/* Leaflet opens the list with Enter, but leaves the focus on what it hides, and has no key to close it. */
function layersByKeys(control) {
  const box = control.getContainer(), toggle = box.querySelector(".leaflet-control-layers-toggle");
  const isOpen = () => box.classList.contains("leaflet-control-layers-expanded");
  const told = () => {
    toggle.setAttribute("aria-expanded", String(isOpen()));
    if (!isOpen() && box.contains(document.activeElement)) toggle.focus();
  };
  toggle.textContent = w.layers;
  toggle.removeAttribute("title");
  box.removeAttribute("aria-haspopup");
  new MutationObserver(told).observe(box, { attributeFilter: ["class"] });
  told();
  toggle.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" && event.key !== " ") return;
    event.preventDefault();
    control.expand();
    box.querySelector("input").focus();
  });
  closesByEscape(box, () => { const was = isOpen(); control.collapse(); return was ? toggle : null; });
  box.addEventListener("keydown", ({ key }) => {
    if (key === "Tab") setTimeout(() => { if (!box.contains(document.activeElement)) control.collapse(); }, 0);
  });
}
function skipToMap() {
  byId("lg-skip").textContent = w.to_map;
  byId("lg-skip").addEventListener("click", () => map.getContainer().focus());
}
