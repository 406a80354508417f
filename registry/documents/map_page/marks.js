"use strict";
/* How modules and groups of modules are drawn, and the layer that draws no more of them than are in sight. */
const modules = site.modules, moduleCount = modules.tag.length;
/** Depths at which the colour changes. Units: m. */
const BAND_EDGES_M = [10, 20, 30, 40];
const BANDS = BAND_EDGES_M.length + 1, UNKNOWN = BANDS, MIXED = -1;
const GROUP_PX = 64;

/** Which band the seabed of a module lies in, by its charted depth. */
function bandOf(row) {
  const depth = modules.depth[row];
  if (depth === "") return UNKNOWN;
  const band = BAND_EDGES_M.findIndex((edge_m) => Number(depth) < edge_m);
  return band < 0 ? BANDS - 1 : band;
}

/** A disc that is fuller the deeper the seabed, so that it reads without any colour too; as markup of our own. */
function disc(band) {
  const around = `<circle cx="15" cy="15" r="11" class="dot"/>`;
  if (band === UNKNOWN) return `${around}<path d="M10 15 H20" class="unknown"/>`;
  const level = 25 - 20 * (band + 1) / BANDS, half = Math.sqrt(Math.max(0, 100 - (level - 15) ** 2));
  const fill = band === BANDS - 1 ? '<circle cx="15" cy="15" r="10"' : `<path d="M${(15 - half).toFixed(2)} ${level} A10 10 0 ${level < 15 ? 1 : 0} 0 ${(15 + half).toFixed(2)} ${level} Z"`;
  return `${around}${fill} class="band-${band}"/>`;
}
const discs = [...Array(BANDS + 1).keys()].map((band) => `<svg viewBox="0 0 30 30" aria-hidden="true">${disc(band)}</svg>`);
const moduleIcons = discs.map((html) => L.divIcon({ className: "module", iconSize: [30, 30], html }));

/** What a band is called: "10 to 20 m (33 to 66 ft)". */
function bandWords(band) {
  if (band === UNKNOWN) return told("not-measured");
  const [from, to] = [BAND_EDGES_M[band - 1], BAND_EDGES_M[band]], feet = (metres) => Math.round(metres / 0.3048);
  if (from === undefined) return told("band-under", { to, feet: feet(to) });
  return to === undefined ? told("band-over", { from, feet: feet(from) }) : told("band", { from, to, feetFrom: feet(from), feetTo: feet(to) });
}

const titleOf = (row) => (modules.name[row] ? `${modules.tag[row]}, ${modules.name[row]}` : modules.tag[row]);
/** Longitudes run on past 180 beside the middle of the site, so that a reef across that meridian is one. */
const besideMiddle = (lon_deg) => lon_deg + 360 * Math.round((site.middle - lon_deg) / 360);
const latLngOf = (row) => L.latLng(modules.lat[row], besideMiddle(modules.lon[row]));

/**
 * The modules of some rows as a layer: groups and single modules as markers, made for what is in sight and kept
 * while they stay there. Fires "press" with the row of a module.
 */
const ModuleLayer = L.LayerGroup.extend({
  show(rows) {
    const points = rows.map((row) => ({ geometry: { type: "Point", coordinates: [besideMiddle(modules.lon[row]) - site.middle, modules.lat[row]] }, properties: row }));
    this.index = new Supercluster({ radius: GROUP_PX, extent: 256, maxZoom: map_reef.getMaxZoom() - 1,
      map: (row) => ({ band: bandOf(row) }), reduce: (sum, more) => { if (sum.band !== more.band) sum.band = MIXED; } }).load(points);
    this.clear();
    if (this._map) this.draw();
  },
  onAdd(map) { L.LayerGroup.prototype.onAdd.call(this, map); map.on("moveend", this.draw, this); if (this.index) this.draw(); },
  onRemove(map) { map.off("moveend", this.draw, this); this.clear(); L.LayerGroup.prototype.onRemove.call(this, map); },
  clear() { this.clearLayers(); this.drawn = new Map(); },
  draw() {
    const bounds = this._map.getBounds().pad(0.1), beside = (lon) => Math.max(-180, Math.min(180, lon - site.middle));
    const found = this.index.getClusters([beside(bounds.getWest()), bounds.getSouth(), beside(bounds.getEast()), bounds.getNorth()], Math.floor(this._map.getZoom()));
    const before = this.drawn;
    this.drawn = new Map();
    found.forEach((item) => {
      const group = item.properties.cluster, key = group ? `group ${item.id}` : item.properties;
      this.drawn.set(key, before.get(key) || (group ? this.groupMarker(item) : this.moduleMarker(item.properties)));
      if (!before.has(key)) this.addLayer(this.drawn.get(key));
      before.delete(key);
    });
    before.forEach((marker) => this.removeLayer(marker));
  },
  moduleMarker(row) {
    const marker = L.marker(latLngOf(row), { icon: moduleIcons[bandOf(row)], riseOnHover: true, title: told("module-title", { module: titleOf(row) }) });
    return this.pressable(Object.assign(marker, { row }), () => this.fire("press", { row, marker }));
  },
  groupMarker(item) {
    const { point_count: n, band } = item.properties, size = 34 + 6 * String(n).length;
    const [lon, lat] = item.geometry.coordinates;
    const icon = L.divIcon({ className: "cluster", iconSize: [size, size], html: `<span class="group-${band === MIXED ? "mixed" : band}">${n}</span>` });
    const marker = L.marker([lat, lon + site.middle], { icon, title: told(band === MIXED ? "group-mixed" : "group", { n, band: band === MIXED ? "" : bandWords(band) }) });
    return this.pressable(marker, () => {
      const zoom = Math.min(this.index.getClusterExpansionZoom(item.id), this._map.getMaxZoom());
      this._map.setView(marker.getLatLng(), zoom, { animate: false });
    });
  },
  pressable(marker, press) {
    marker.on("click", press);
    return marker.on("keypress", (event) => { if (event.originalEvent.key === "Enter") press(); });
  },
  markerOf(row) { return this.drawn.get(row); },
});
