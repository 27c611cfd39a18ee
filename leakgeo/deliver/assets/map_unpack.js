/* Chunks of data, decoded when needed and cached; the inverse of map/pack.py. */
const KEPT = 80, pieces = new Map();
function piece(name, then) {
  const got = pieces.get(name);
  if (got instanceof Promise) { got.then(then); return; }
  if (got) { then(got); return; }
  const node = byId("lg-" + name);
  if (node.type === "application/json") { keep(name, JSON.parse(node.textContent)); then(pieces.get(name)); return; }
  const coming = inflate(node.textContent).then((content) => { keep(name, content); return content; });
  pieces.set(name, coming);
  coming.then(then).catch((error) => { announce(`${w.unreadable}: ${error.message}`); });
}
function keep(name, content) {
  pieces.delete(name);
  pieces.set(name, content);
  const old = [...pieces.keys()].filter((key) => key.startsWith("details-") && !(pieces.get(key) instanceof Promise));
  if (old.length > KEPT) pieces.delete(old[0]);
}
function inflate(text) {
  if (!window.DecompressionStream) return Promise.reject(new Error("this browser is too old for a map of so many lines; use a newer one, or make a map of fewer lines."));
  const bytes = Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
  return new Response(new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate"))).json();
}
function announce(text) { byId("lg-told").textContent = text; }

/* Decode flat deltas to [latitude, longitude] pairs; nested lists keep their nesting. */
function points(flat) {
  if (!flat) return null;
  if (Array.isArray(flat[0])) return flat.map(points);
  const [lat0, lon0] = index.origin, out = [];
  let lat = 0, lon = 0;
  for (let k = 0; k + 1 < flat.length; k += 2) {
    if (flat[k] === null) { out.push(null); continue; }
    lat += flat[k];
    lon += flat[k + 1];
    out.push([lat0 + lat / 1e7, lon0 + lon / 1e7]);
  }
  return out;
}
const point = (flat) => (flat ? points(flat)[0] : null);
function numbers(steps, scale) {
  let sum = 0;
  return steps.map((step) => (step === null ? null : (sum += step) / scale));
}
function ellipse(centre, axes) {
  if (!centre || !axes) return null;
  const [a, b] = points(axes).map((end) => [end[0] - centre[0], end[1] - centre[1]]);
  return Array.from({ length: 48 }, (_, k) => {
    const c = Math.cos(k * Math.PI / 24), s = Math.sin(k * Math.PI / 24);
    return [centre[0] + c * a[0] + s * b[0], centre[1] + c * a[1] + s * b[1]];
  });
}
function readingsOf(packed) {
  return { ...packed, at: points(packed.at), fix: points(packed.fix), x: numbers(packed.x, 100), db: numbers(packed.db, 10),
    why: packed.why.length ? packed.why : packed.used.map(() => "") };
}
/* The marks of a line with their digs: the line itself where it has not several. */
const digsOf = (line) => (line.marks.length ? line.marks : [line]);
const marksOf = (line) => digsOf(line).map((dig) => dig.mark && dig.mark.at);
function unpackDig(dig) {
  for (const name of ["conflicts", "others"]) dig[name].forEach((row) => { row.at = points(row.at); });
  dig.digAt = points(dig.digAt);
  if (dig.request) dig.request.at = points(dig.request.at);
  if (!dig.mark) return;
  dig.mark.at = point(dig.mark.at);
  dig.mark.ring = ellipse(dig.mark.at, dig.mark.ring);
}
function unpack(line) {
  for (const name of ["zones", "bracket"]) line[name].forEach((row) => { row.at = points(row.at); });
  for (const name of ["next", "fittings", "air"]) line[name].forEach((row) => { row.at = point(row.at); });
  line.pipe = points(line.pipe);
  [line, ...line.marks].forEach(unpackDig);
  line.readings = readingsOf(line.readings);
  const { x, db, sd, density } = line.profile;
  line.profile = { x: numbers(x, 100), db: numbers(db, 10), sd: numbers(sd, 10), density: numbers(density, 1) };
  line.bounds = boundsOf(line.pipe, line.zones.map((z) => z.at), line.readings.at.filter((at, k) => at && line.readings.used[k]), marksOf(line));
  line.focus = boundsOf(line.zones.map((z) => z.at), digsOf(line).map((dig) => line.located && dig.digAt), marksOf(line)) || line.bounds;
  line.ready = true;
  return line;
}
function withLine(k, then) {
  const at = index.detail[k], size = index.sizes.details;
  piece("details-" + Math.floor(at / size), (lines) => {
    const line = lines[at % size];
    then(line.ready ? line : unpack(line));
  });
}
