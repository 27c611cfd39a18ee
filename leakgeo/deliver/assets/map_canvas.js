/* Canvas symbols that Leaflet lacks: hatches, crosses, clusters, diamonds. */
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
  _updateCluster(layer) {
    if (!this._drawing || layer._empty()) return;
    const { x, y } = layer._point, ctx = this._ctx, { radius: r, text, share } = layer.options;
    ctx.globalAlpha = 1;
    ctx.setLineDash([]);
    ctx.fillStyle = "#fff"; ctx.strokeStyle = "#8b949e"; ctx.lineWidth = 4;
    ctx.beginPath(); ctx.arc(x, y, r - 2, 0, 7); ctx.fill(); ctx.stroke();
    ctx.strokeStyle = looks.ink;
    if (share > 0) { ctx.beginPath(); ctx.arc(x, y, r - 2, -Math.PI / 2, Math.PI * (2 * share - 0.5)); ctx.stroke(); }
    ctx.fillStyle = looks.ink; ctx.font = "700 12px system-ui, sans-serif";
    ctx.textAlign = "center"; ctx.textBaseline = "middle";
    ctx.fillText(text, x, y + 0.5);
  },
  _updateDiamond(layer) {
    if (!this._drawing || layer._empty()) return;
    const { x, y } = layer._point, ctx = this._ctx, r = layer.options.radius;
    ctx.beginPath();
    ctx.moveTo(x, y - r); ctx.lineTo(x + r, y); ctx.lineTo(x, y + r); ctx.lineTo(x - r, y); ctx.closePath();
    plainFill.call(this, ctx, layer);
  },
});
const Cross = L.CircleMarker.extend({ _updatePath() { this._renderer._updateCross(this); } });
const Cluster = L.CircleMarker.extend({ _updatePath() { this._renderer._updateCluster(this); } });
const Diamond = L.CircleMarker.extend({ _updatePath() { this._renderer._updateDiamond(this); } });
