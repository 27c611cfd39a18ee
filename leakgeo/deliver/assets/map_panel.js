/* The panel of one line; the address (#line=H-126) names the open line. */
const addressOf = (id) => "#line=" + encodeURIComponent(id);
function goTo(address) {
  if (location.hash === address || (address === "#" && location.hash.length < 2)) return;
  try { history.pushState(null, "", address); } catch { location.hash = address; }
}
function openLine(k, move) {
  goTo(addressOf(index.id[k]));
  if (chosen !== k) showLine(k, move);
}
function closeLine() {
  goTo("#");
  hideLine();
}
/* Handle back, forward, and typed or followed links. */
function followAddress() {
  const found = /^#line=(.*)$/.exec(location.hash);
  let id = null;
  try { id = found && decodeURIComponent(found[1]); } catch { id = null; }
  const k = id === null ? -1 : index.id.indexOf(id);
  if (found && k < 0) announce(w.no_such_line);
  if (k >= 0 && k !== chosen) showLine(k, true);
  if (k < 0 && chosen >= 0) hideLine();
}
function showLine(k, move) {
  chosen = k;
  withLine(k, (line) => { if (chosen === k) fillPanel(line, k, move); });
}
function fillPanel(line, k, move) {
  const panel = byId("lg-panel");
  panel.replaceChildren(...panelParts(line, k));
  panel.hidden = false;
  byId("lg-lines").hidden = true;
  document.title = `${line.id} - ${w.page_title}`;
  const still = !move || matchMedia("(prefers-reduced-motion: reduce)").matches;
  if (line.focus) map.fitBounds(line.focus, { padding: [40, 40], maxZoom: 23, animate: !still });
  if (move) { byId("lg-name").focus({ preventScroll: true }); byId("lg-side").scrollTop = 0; window.scrollTo(0, 0); }
  refresh();
  fillFooter();
}
function hideLine() {
  const k = chosen;
  chosen = -1;
  document.title = w.page_title;
  byId("lg-panel").hidden = true;
  byId("lg-lines").hidden = false;
  const button = document.querySelector(`.entry[data-line="${k}"]`);
  (button || byId("lg-search")).focus();
  refresh();
  fillFooter();
}
function panelParts(line, k) {
  const back = el("button", { class: "back", type: "button" }, "\u2190 " + w.all_lines);
  back.addEventListener("click", closeLine);
  return [cardBox(line, k, back), el("div", { class: "rest" }, ...detailParts(line))];
}
function detailParts(line) {
  return [
    ...actionParts(line),
    line.mark ? el("p", { class: "mark" }, line.where) : null,
    ...(line.marks.length ? line.marks.flatMap(markParts) : [...spotParts(line), holdsBox(line)]),
    ...bulletParts(w.how_sure, [...line.odds, line.else, line.limit]),
    ...plotParts(line),
    ...bulletParts(w.meter_test, line.meterSays),
    ...tableParts(w.air_tests, [w.place, w.verdict, w.heard], line.air.map((test) => test.says)),
    ...(line.marks.length ? [] : digParts(line)),
    ...tableParts(w.listen_next, [w.number, w.from_start, w.why], line.next.map((n) => n.says), line.card.next.includes(line.advice) ? "" : line.advice),
    ...bulletParts(w.ways_to_improve, line.improvements, line.improvementsWhy && `${w.this_line}: ${line.improvementsWhy}.`),
    ...tableParts(w.walk_first, [w.number, w.from_start, w.if_leak, w.why], line.bracket.map((row) => row.says)),
    ...readingParts(line.readings),
    ...tableParts(w.fittings, [w.rank, w.fitting, w.level], byRank(line.fittings)),
    ...tableParts(w.the_line, ["", ""], line.facts),
    el("p", { class: "soft" }, head.meaning),
    el("p", { class: "soft" }, w.link + " ", el("a", { href: addressOf(line.id) }, addressOf(line.id))),
  ].filter(Boolean);
}
/* What to do next, the best first. */
function actionParts({ actions, actionCautions }) {
  if (!actions.length) return [];
  const parts = tableParts(w.do_next, [w.number, w.what, w.minutes, w.less_doubt], actions);
  parts[parts.length - 1].className = "actions";
  return [...parts, el("p", { class: "soft" }, [w.about_actions, ...actionCautions].join(" "))];
}
const spotParts = ({ error, mark }) => [error ? el("p", {}, error) : null, ...(mark ? mark.spots.map((spot) => el("p", { class: "soft" }, spot)) : [])];
const digParts = (dig) => [...conflictParts(dig), ...dig.others.map((other) => el("p", {}, other.says)), ...requestParts(dig)];
/* One of several marks, with all that belongs to its dig. */
function markParts(dig) {
  return [el("h3", { class: "of-mark" }, dig.where), ...spotParts(dig), holdsBox(dig), dig.next ? el("p", {}, dig.next) : null, ...digParts(dig)];
}
/* What holds the dig, the place and the next action, as on the terminal. */
function cardBox(line, k, back) {
  const { held, where, links, next } = line.card;
  return el("div", { class: "card" },
    el("div", { class: "top" }, el("h2", { id: "lg-name", dir: "auto", tabindex: "-1" }, line.id), index.id.length > 1 ? back : null),
    held || line.located ? el("p", { class: held ? "held" : "no-hold" }, held || line.dig) : index.held[k] ? badge(k, line.dig) : null,
    where ? el("p", { class: "place" }, ...linked(where, links)) : null,
    next ? el("p", {}, next) : null);
}
/* The readings of map and plot in words, for who sees or points at neither; made when they are opened. */
function readingParts(readings) {
  if (!readings.x.length) return [];
  const box = el("details", { class: "each" }, el("summary", {}, w.each_reading));
  const from = (x) => (x === null ? "" : `${(x / head.units.metres).toFixed(1)} ${head.units.name}`);
  box.addEventListener("toggle", () => {
    const rows = [...readings.x.keys()].map((k) => { const [id, level, why] = readingSays(readings, k); return [id, from(readings.x[k]), level, why]; });
    box.append(table([w.reading, w.from_start, w.level, w.why], rows));
  }, { once: true });
  return [box];
}
const byRank = (fittings) => fittings.map((f) => f.says).sort((a, b) => (+a[0] || Infinity) - (+b[0] || Infinity));
/* Turn names of other lines, given by begin and end in a text, into links. */
function linked(text, links) {
  const letters = Array.from(text), parts = [];
  let at = 0;
  for (const [begin, end, id] of links) {
    const name = letters.slice(begin, end).join("");
    parts.push(letters.slice(at, begin).join(""), index.id.includes(id) ? el("a", { href: addressOf(id) }, name) : name);
    at = end;
  }
  return [...parts, letters.slice(at).join("")];
}
function bullets(texts) { return el("ul", {}, ...texts.map((text) => el("li", {}, text))); }
function bulletParts(title, texts, first) {
  const said = texts.filter(Boolean);
  return said.length ? [el("h3", {}, title), first ? el("p", { class: "soft" }, first) : null, bullets(said)] : [];
}
function conflictParts(line) {
  if (!line.conflicts.length) return [];
  const items = line.conflicts.map(({ says: [name, clearance, severity, answer, action] }) =>
    el("li", {}, el("b", {}, name), `: ${severity}, ${w.clearance} ${clearance}; ${w.answer}: ${answer}`, action ? `; ${w.to_do}: ${action}` : ""));
  return [el("h3", {}, w.conflicts), el("ul", {}, ...items)];
}
function requestParts(line) {
  const ask = line.request;
  if (!ask) return [];
  return [
    ...tableParts(w.request, ["", w.latitude], ask.places),
    el("p", {}, ask.size),
    ...tableParts(w.by_tape, [w.from, w.distance, w.direction], ask.ties),
    ask.note ? el("p", { class: "soft" }, ask.note) : null,
  ].filter(Boolean);
}
function holdsBox(line) {
  const box = el("div", { class: "holds" + (line.holds.length ? "" : " ready") }, el("b", {}, line.holds.length ? w.what_holds : line.dig));
  if (line.holds.length) box.append(bullets(line.holds));
  if (line.cautions.length) box.append(el("b", {}, w.cautions), bullets(line.cautions));
  return box;
}
function tableParts(title, heads, rows, first) {
  if (!rows.length && !first) return [];
  const out = [el("h3", {}, title), first ? el("p", {}, first) : null];
  if (!rows.length) return out;
  return [...out, table(heads, rows)];
}
/* A table whose first column has no heading names its rows by it. */
function table(heads, rows) {
  const out = el("table", {}), named = (k) => k === 0 && !heads[0];
  if (heads.some(Boolean)) out.append(el("tr", {}, ...heads.map((h) => (h ? el("th", { scope: "col" }, h) : el("td")))));
  rows.forEach((row) => out.append(el("tr", {}, ...row.map((cell, k) => (named(k) ? el("th", { scope: "row", dir: "auto" }, cell) : el("td", { dir: "auto" }, cell))))));
  return out;
}
