/* The list of lines, shown in pages; the search covers all lines. */
const A_PAGE = 200;
let matches = [], shown = 0;
function badge(k, dig) {
  const count = index.held[k], kind = count ? "hold" : index.marks[k] ? "ready" : "none";
  return el("span", { class: "badge " + kind }, count ? `${dig}: ${count} ${count === 1 ? w.reason : w.reasons}` : dig);
}
function entry(k, says) {
  const button = el("button", { class: "entry", type: "button", "data-line": k },
    el("span", { class: "top" }, el("span", { class: "name", dir: "auto" }, index.id[k]), badge(k, says.dig)),
    el("span", { class: "where" }, says.where),
    says.odds ? el("span", { class: "soft" }, says.odds) : null,
    says.meter ? el("span", { class: "soft" }, says.meter) : null,
    says.heldBy ? el("span", { class: "soft" }, w.held_by + ": " + says.heldBy) : null,
    says.message ? el("span", { class: "soft" }, says.message) : null);
  button.addEventListener("click", () => openLine(k, true));
  return button;
}
function fillEntry(item, k, focus) {
  const size = index.sizes.entries;
  piece("entries-" + Math.floor(k / size), (says) => {
    item.replaceChildren(entry(k, says[k % size]));
    if (focus) item.firstChild.focus();
  });
}
/* The button may go away: the focus goes on to what it brought. */
function showMore(focus) {
  const next = matches.slice(shown, shown + A_PAGE), items = next.map(() => el("li"));
  shown += next.length;
  byId("lg-list").append(...items);
  items.forEach((item, k) => fillEntry(item, next[k], focus && k === 0));
  const left = matches.length - shown;
  byId("lg-more").hidden = left === 0;
  byId("lg-more").textContent = `${left} ${w.show_more}`;
}
function filterList() {
  const word = byId("lg-search").value.trim().toLowerCase(), status = byId("lg-status").value;
  matches = [];
  index.lower.forEach((id, k) => {
    if (id.includes(word) && (!status || index.statuses[index.status[k]] === status)) matches.push(k);
  });
  shown = 0;
  byId("lg-list").replaceChildren();
  showMore(false);
  announce(word || status ? `${matches.length} ${w.of} ${index.id.length} ${w.lines}` : "");
}
function buildList() {
  index.lower = index.id.map((id) => id.toLowerCase());
  byId("lg-title").textContent = w.title;
  byId("lg-search").placeholder = w.find;
  byId("lg-search").setAttribute("aria-label", w.find);
  byId("lg-tally").textContent = head.tally;
  byId("lg-every").textContent = head.every.join(" ");
  const first = `${w.first_lines}: ${index.id.length}. ${head.left_out} ${w.in_result}.`;
  byId("lg-left-out").textContent = [head.left_out ? first : "", head.unplaced].filter(Boolean).join(" ");
  byId("lg-status").append(el("option", { value: "" }, w.every_status),
    ...index.statuses.map((status, code) => el("option", { value: status }, statusText(code))));
  byId("lg-search").addEventListener("input", filterList);
  byId("lg-search").addEventListener("keydown", (event) => { if (event.key === "Enter" && matches.length) openLine(matches[0], true); });
  byId("lg-status").addEventListener("change", filterList);
  byId("lg-more").addEventListener("click", () => showMore(true));
  byId("lg-find").hidden = index.id.length < 8;
  filterList();
}
