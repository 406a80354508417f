"use strict";
/* The page around the map. Typed text reaches the page through textContent alone, never as markup. */
(function () {
  const map = map_reef, modules = fast_marker_cluster_modules, areas = geo_json_areas, keepOuts = geo_json_keepouts;
  const byId = (id) => document.getElementById(id);
  const [TAG, NAME, LAT, LON, WRITTEN, WITHIN, DEPTH, HEIGHT, PLACED, AREA] = [0, 1, 2, 3, 4, 5, 6, 7, 8, 9];
  const markers = modules.getLayers().sort((one, other) => one.row - other.row);
  const FOUND_MOST = 50;
  let shown = markers;
  let measuring = null;

  function element(name, properties, ...children) {
    const made = Object.assign(document.createElement(name), properties);
    made.append(...children);
    return made;
  }
  const typed = (text) => element("bdi", { textContent: text });
  const say = (text) => { byId("say").textContent = text; };

  /* ---- what a popup says ---- */

  function copied(text, what) {
    const done = () => say(`${what} copied: ${text}`);
    const byHand = () => {
      const field = element("textarea", { value: text, readOnly: true });
      field.style.position = "fixed";
      field.style.top = "0";
      document.body.append(field);
      field.select();
      const worked = document.execCommand("copy");
      field.remove();
      if (worked) done(); else say(`This browser does not let a page copy. Select it by hand: ${text}`);
    };
    if (navigator.clipboard && navigator.clipboard.writeText) navigator.clipboard.writeText(text).then(done, byHand); else byHand();
  }

  function facts(pairs) {
    const list = element("dl", {});
    pairs.forEach(([term, value, kind]) => {
      if (value) list.append(element("div", { className: kind || "" }, element("dt", { textContent: term }), element("dd", {}, typed(value))));
    });
    return list;
  }

  function copyButton(text, label) {
    const button = element("button", { type: "button", textContent: `Copy ${label}` });
    button.addEventListener("click", () => {
      copied(text, label[0].toUpperCase() + label.slice(1));
      button.textContent = "Copied";
      setTimeout(() => { button.textContent = `Copy ${label}`; }, 2000);
    });
    return button;
  }

  function modulePopup(marker) {
    const row = site.modules[marker.row], decimal = `${row[LAT]}, ${row[LON]}`;
    return element("div", { className: "about-module", tabIndex: -1 },
      element("h3", {}, typed(row[NAME] || row[TAG])),
      facts([["Tag", row[NAME] ? row[TAG] : ""], ["Degrees and minutes, WGS 84", row[WRITTEN], "place"], ["Decimal degrees", decimal, "place"],
        ["The module lies", `within ${row[WITHIN]} m (95 %)`], ["Seabed", row[DEPTH]], ["Stands above the seabed", row[HEIGHT]],
        ["Placed", row[PLACED]], ["Permit area", row[AREA]]]),
      element("div", { className: "buttons" }, copyButton(row[WRITTEN], "minutes"), copyButton(decimal, "decimals"),
        element("a", { className: "open", href: `geo:${row[LAT]},${row[LON]};u=${row[WITHIN]}`, textContent: "Open in a map app" })),
      element("p", { textContent: "Not for navigation." }));
  }

  const within = L.circle([0, 0], { radius: 1, className: "within", interactive: false });
  const popup = L.popup({ maxWidth: 300, minWidth: 230, autoPanPadding: [12, 12] });
  let opened = null;
  map.on("popupopen", () => map.getContainer().classList.add("reading"));
  map.on("popupclose", () => map.getContainer().classList.remove("reading"));

  function openModule(marker) {
    opened = marker;
    within.setLatLng(marker.getLatLng()).setRadius(Number(site.modules[marker.row][WITHIN])).addTo(map);
    popup.setLatLng(marker.getLatLng()).setContent(modulePopup(marker)).openOn(map);
    popup.getElement().querySelector(".about-module").focus({ preventScroll: true });
  }
  const pressed = (event) => { if (measuring) addPoint(event.layer.getLatLng(), event.layer); else openModule(event.layer); };
  modules.on("click", pressed);
  modules.on("keypress", (event) => { if (event.originalEvent.key === "Enter") pressed(event); });
  map.on("popupclose", (event) => {
    if (event.popup !== popup) return;
    within.remove();
    if (opened && opened.getElement && opened.getElement()) opened.getElement().focus({ preventScroll: true });
    opened = null;
  });
  map.getContainer().addEventListener("keydown", (event) => { if (event.key === "Escape") map.closePopup(); });

  function goTo(marker) {
    if (!map.hasLayer(modules)) { byId("show-modules").checked = true; map.addLayer(modules); }
    byId("map_reef").scrollIntoView({ block: "nearest" });
    map.setView(marker.getLatLng(), Math.max(map.getZoom(), 20), { animate: false });
    openModule(marker);
  }

  areas.eachLayer((layer) => {
    const area = site.areas[layer.feature.properties.i];
    layer.bindPopup(() => element("div", {}, element("h3", {}, typed(area.id)), facts([["Permit area under permit", area.permit]])));
  });
  keepOuts.eachLayer((layer) => {
    const keepOut = site.keepOuts[layer.feature.properties.i];
    layer.bindPopup(() => element("div", {}, element("h3", {}, typed(keepOut.name)),
      facts([["Keep-out", keepOut.kind], ["Setback", `Modules are to lie at least ${keepOut.setback} away`]])));
  });
  [areas, keepOuts].forEach((group) => group.on("click", (event) => {
    if (measuring) { map.closePopup(); addPoint(event.latlng, null); }
  }));

  /* ---- search ---- */

  const plain = (text) => text.normalize("NFD").replace(/\p{M}/gu, "").toLowerCase();
  const haystack = site.modules.map((row) => plain(`${row[TAG]} ${row[NAME]}`));

  function search() {
    const words = plain(byId("find").value).split(/\s+/).filter(Boolean);
    const before = shown;
    shown = words.length ? markers.filter((marker) => words.every((word) => haystack[marker.row].includes(word))) : markers;
    if (shown !== before) { modules.clearLayers(); modules.addLayers(shown); }
    const list = byId("found"), all = markers.length;
    list.replaceChildren();
    if (words.length) {
      shown.slice(0, FOUND_MOST).forEach((marker) => {
        const row = site.modules[marker.row];
        const button = element("button", { type: "button" }, element("b", {}, typed(row[TAG])), typed(row[NAME]));
        button.addEventListener("click", () => { list.replaceChildren(); goTo(marker); });
        list.append(element("li", {}, button));
      });
    }
    const more = words.length && shown.length > FOUND_MOST ? `, the first ${FOUND_MOST} listed` : "";
    byId("count").textContent = words.length
      ? (shown.length ? `${shown.length} of ${all} modules match${more}` : `No tag or name holds that. Try fewer letters.`)
      : `${all} ${all === 1 ? "module" : "modules"}`;
  }
  let waiting = null;
  byId("find").addEventListener("input", () => { clearTimeout(waiting); waiting = setTimeout(search, markers.length > 5000 ? 250 : 60); });

  /* Enter opens the first hit; the arrows walk through the hits, Escape leads back to the words. */
  const hits = () => [...byId("found").querySelectorAll("button")];
  byId("find").addEventListener("keydown", (event) => {
    if (event.isComposing || (event.key !== "Enter" && event.key !== "ArrowDown")) return;
    clearTimeout(waiting);
    search();
    const [first] = hits();
    if (!first) return;
    event.preventDefault();
    if (event.key === "Enter") first.click(); else first.focus();
  });
  byId("found").addEventListener("keydown", (event) => {
    const buttons = hits(), at = buttons.indexOf(document.activeElement);
    if (event.key === "ArrowDown" && at < buttons.length - 1) buttons[at + 1].focus();
    else if (event.key === "ArrowUp" && at > 0) buttons[at - 1].focus();
    else if (event.key === "Escape" || event.key === "ArrowUp") byId("find").focus();
    else if (event.key !== "ArrowDown") return;
    event.preventDefault();
  });

  /* ---- measure ---- */

  const line = L.polyline([], { className: "measured", interactive: false });
  const pins = L.layerGroup();

  /** Metres on the seabed under one pixel of the screen, at the middle of the map. */
  function pixel_m() {
    const middle = map.getSize().divideBy(2);
    const one = map.containerPointToLatLng(middle), other = map.containerPointToLatLng(middle.add([1, 0]));
    const span = geodesic(one.lat, one.lng, other.lat, other.lng);
    return span ? Math.max(span.distance_m, 0.01) : 1000;
  }

  function legText(from, to) {
    const leg = geodesic(from.lat, from.lng, to.lat, to.lng);
    if (!leg) return "These places lie on opposite sides of the earth; no single bearing joins them.";
    const text = lengthText(leg.distance_m, Math.max(from.fine_m, to.fine_m));
    const spread_m = Math.hypot(from.r95_m, to.r95_m);
    return text + (leg.bearing_deg === null ? "" : `, ${bearingText(leg.bearing_deg)}`)
      + (spread_m ? `; known within ${spread_m < 10 ? spread_m.toFixed(1) : spread_m.toFixed(0)} m (95 %)` : "");
  }

  function drawMeasure() {
    line.setLatLngs(measuring.map((point) => [point.lat, point.lng]));
    pins.clearLayers();
    measuring.forEach((point, index) => {
      pins.addLayer(L.marker([point.lat, point.lng], { interactive: false, keyboard: false, zIndexOffset: 5000,
        icon: L.divIcon({ className: "marked", html: String(index + 1), iconSize: [24, 24] }) }));
    });
    byId("legs").replaceChildren(...measuring.slice(1).map((to, index) =>
      element("li", { textContent: `${index + 1} to ${index + 2}: ${legText(measuring[index], to)}` })));
    byId("legs").scrollTop = byId("legs").scrollHeight;
    if (measuring.length > 2) {
      const total = measuring.slice(1).reduce((sum, to, index) => {
        const leg = geodesic(measuring[index].lat, measuring[index].lng, to.lat, to.lng);
        return sum + (leg ? leg.distance_m : NaN);
      }, 0);
      if (Number.isFinite(total)) byId("legs").append(element("li", { textContent: `Total: ${lengthText(total, Math.max(...measuring.map((point) => point.fine_m)))}` }));
    }
  }

  function addPoint(latlng, marker) {
    const row = marker ? site.modules[marker.row] : null;
    measuring.push({ lat: latlng.lat, lng: latlng.lng, fine_m: row ? Number(row[WITHIN]) : pixel_m(), r95_m: row ? Number(row[WITHIN]) : 0 });
    drawMeasure();
  }

  const cross = element("div", { className: "cross", innerHTML: '<svg viewBox="0 0 30 30" aria-hidden="true"><path d="M15 0V12M15 18V30M0 15H12M18 15H30"/></svg>' });
  function measure(on) {
    measuring = on ? [] : null;
    byId("measure").setAttribute("aria-pressed", String(on));
    byId("measuring").hidden = !on;
    if (on) { map.closePopup(); line.addTo(map); pins.addTo(map); map.getContainer().append(cross); drawMeasure(); } else { line.remove(); pins.remove(); cross.remove(); }
    map.getContainer().style.cursor = on ? "crosshair" : "";
  }
  byId("measure").addEventListener("click", () => measure(!measuring));
  byId("done").addEventListener("click", () => { measure(false); byId("measure").focus(); });
  byId("undo").addEventListener("click", () => { measuring.pop(); drawMeasure(); });
  byId("add-centre").addEventListener("click", () => addPoint(map.getCenter(), null));
  map.on("click", (event) => { if (measuring) addPoint(event.latlng, null); });

  /* ---- where am I ---- */

  const here = L.layerGroup().addTo(map);
  /* Above the marks of modules and their groups, below popups; what lies under it can still be pressed. */
  Object.assign(map.createPane("here").style, { zIndex: 640, pointerEvents: "none" });
  /* Whoever is nearer than this sees the nearest module beside the own mark. */
  const FAR_M = 50000;
  const WHY_NOT = {
    1: "This browser keeps your position to itself. Allow location for this page, or use the boat's own receiver.",
    2: "Your device cannot tell where it is just now. Try under open sky.",
    3: "Your device took too long to find itself. Try again under open sky.",
  };

  /** Say something where it is seen: on a phone the line below the map may be off the screen. */
  function sayInView(text) {
    say(text);
    byId("say").scrollIntoView({ block: "nearest" });
  }

  function located(position) {
    const { latitude, longitude, accuracy } = position.coords;
    const near = longitude + 360 * Math.round((site.middle - longitude) / 360);
    here.clearLayers();
    const around = L.circle([latitude, near], { radius: accuracy, className: "here", interactive: false, pane: "here" });
    here.addLayer(around);
    ["here-edge", "here-mark"].forEach((className) => {
      here.addLayer(L.circleMarker([latitude, near], { radius: 11, className, interactive: false, pane: "here" }));
    });
    let nearest = null;
    shown.forEach((marker) => {
      const leg = geodesic(latitude, longitude, marker.getLatLng().lat, marker.getLatLng().lng);
      if (leg && (!nearest || leg.distance_m < nearest.leg.distance_m)) nearest = { leg, marker };
    });
    if (nearest && nearest.leg.distance_m < FAR_M) {
      map.fitBounds(around.getBounds().extend(nearest.marker.getLatLng()), { padding: [50, 50], maxZoom: 18, animate: false });
    } else map.setView([latitude, near], Math.max(map.getZoom(), 12), { animate: false });
    const about = `The ring is your own position, good to about ${Math.max(1, Math.round(accuracy))} m.`;
    if (!nearest) { sayInView(about); return; }
    const bearing = nearest.leg.bearing_deg === null ? "" : `, ${bearingText(nearest.leg.bearing_deg)}`;
    sayInView(`${about} The nearest module, ${site.modules[nearest.marker.row][TAG]}, is ${lengthText(nearest.leg.distance_m, Math.max(accuracy, 1))} away${bearing}. Not for navigation.`);
  }
  byId("locate").addEventListener("click", () => {
    if (!navigator.geolocation) { sayInView("This browser cannot tell a page where it is. Use the boat's own receiver."); return; }
    sayInView("Asking your device where it is.");
    navigator.geolocation.getCurrentPosition(located, (error) => sayInView(WHY_NOT[error.code] || WHY_NOT[2]),
      { enableHighAccuracy: true, timeout: 20000, maximumAge: 10000 });
  });

  /* ---- positions for a plotter ---- */

  const xml = (text) => String(text).replace(/[^\t\n\r\u0020-\uD7FF\uE000-\uFFFD\u{10000}-\u{10FFFF}]/gu, "")
    .replace(/&/g, "&amp;").replace(/</g, "&lt;").replace(/>/g, "&gt;").replace(/"/g, "&quot;");

  /** A longitude in seven decimals, which must not round up to 180. */
  function lonText(lon_deg) {
    const text = wrapped(lon_deg).toFixed(7);
    return text === "180.0000000" ? "179.9999999" : text;
  }

  /** Runs of positions, split where they cross the 180th meridian: GPX longitudes stay in [-180, 180). */
  function segments(points) {
    const runs = [[]];
    points.forEach(([lon, lat], index) => {
      if (index) {
        const [before, lat0] = points[index - 1];
        const turn = Math.floor((lon + 180) / 360), turn0 = Math.floor((before + 180) / 360);
        if (turn !== turn0) {
          const edge = 360 * Math.max(turn, turn0) - 180, crossing = lat0 + (lat - lat0) * (edge - before) / (lon - before);
          const [west, east] = [[-180, crossing], [179.9999999, crossing]];
          runs[runs.length - 1].push(turn > turn0 ? east : west);
          runs.push([turn > turn0 ? west : east]);
        }
      }
      runs[runs.length - 1].push([lon, lat]);
    });
    return runs;
  }

  function linesOf(geometry) {
    if (geometry.type === "GeometryCollection") return geometry.geometries.flatMap(linesOf);
    const depth = { Point: -1, MultiPoint: -1, LineString: 0, MultiLineString: 1, Polygon: 1, MultiPolygon: 2 }[geometry.type];
    return depth < 0 ? [] : [geometry.coordinates].flat(depth);
  }

  function track(title, words, layer) {
    const runs = linesOf(layer.feature.geometry).flatMap(segments).filter((run) => run.length > 1);
    if (!runs.length) return "";
    return `<trk><name>${xml(title)}</name><desc>${xml(words)}</desc>${runs.map((run) =>
      `<trkseg>${run.map(([lon, lat]) => `<trkpt lat="${lat.toFixed(7)}" lon="${lonText(lon)}"/>`).join("")}</trkseg>`).join("")}</trk>\n`;
  }

  function gpx() {
    const points = map.hasLayer(modules) ? shown.map((marker) => {
      const row = site.modules[marker.row];
      const words = [row[NAME], `Within ${row[WITHIN]} m (95 %)`, row[DEPTH], `Placed ${row[PLACED]}`, site.frame, "Not for navigation"].filter(Boolean).join("; ");
      return `<wpt lat="${row[LAT]}" lon="${row[LON]}"><name>${xml(row[TAG])}</name><desc>${xml(words)}</desc></wpt>\n`;
    }) : [];
    const tracks = [];
    if (map.hasLayer(areas)) areas.eachLayer((layer) => {
      const area = site.areas[layer.feature.properties.i];
      tracks.push(track(area.id, `Permit area under permit ${area.permit}`, layer));
    });
    if (map.hasLayer(keepOuts)) keepOuts.eachLayer((layer) => {
      const keepOut = site.keepOuts[layer.feature.properties.i];
      tracks.push(track(`Keep clear: ${keepOut.name}`, `${keepOut.kind}; setback ${keepOut.setback}`, layer));
    });
    return '<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="1.1" creator="Leadline" xmlns="http://www.topografix.com/GPX/1/1">\n'
      + `<metadata><name>${xml(site.programme)}</name><desc>${xml(`Memorial reef modules, issued ${site.issued}, ${site.frame}. Not for navigation; use official charts.`)}</desc></metadata>\n`
      + points.join("") + tracks.join("") + "</gpx>\n";
  }
  byId("gpx").addEventListener("click", () => {
    const address = URL.createObjectURL(new Blob([gpx()], { type: "application/gpx+xml" }));
    const link = element("a", { href: address, download: `${site.file}.gpx` });
    document.body.append(link);
    link.click();
    link.remove();
    setTimeout(() => URL.revokeObjectURL(address), 10000);
    say(`${map.hasLayer(modules) ? shown.length : 0} positions written for a plotter. Not for navigation.`);
  });

  /* ---- layers, areas, table ---- */

  [["show-modules", modules], ["show-areas", areas], ["show-keepouts", keepOuts]].forEach(([id, layer]) => {
    byId(id).addEventListener("change", (event) => { if (event.target.checked) map.addLayer(layer); else map.removeLayer(layer); });
  });
  document.querySelector(".skip").addEventListener("click", () => { byId("all").open = true; });
  document.querySelector(".areas").addEventListener("click", (event) => {
    const link = event.target.closest("a");
    if (!link) return;
    event.preventDefault();
    const [group, index] = [link.dataset.group === "area" ? areas : keepOuts, Number(link.dataset.i)];
    group.eachLayer((layer) => {
      if (layer.feature.properties.i !== index) return;
      map.fitBounds(layer.getBounds ? layer.getBounds() : L.latLngBounds([layer.getLatLng()]), { padding: [30, 30], maxZoom: 18, animate: false });
      map.openPopup(layer.getPopup().setLatLng(layer.getCenter ? layer.getCenter() : layer.getLatLng ? layer.getLatLng() : layer.getBounds().getCenter()));
    });
    byId("map_reef").scrollIntoView({ block: "nearest" });
  });
  byId("rows").addEventListener("click", (event) => {
    const link = event.target.closest("a");
    if (!link) return;
    event.preventDefault();
    goTo(markers[link.closest("tr").sectionRowIndex]);
  });
  let onScreen = null;
  window.addEventListener("beforeprint", () => {
    byId("all").open = true;
    const seen = map.getBounds();
    onScreen = [map.getCenter(), map.getZoom()];
    document.documentElement.classList.add("on-paper");
    map.invalidateSize({ animate: false }).fitBounds(seen, { animate: false });
  });
  window.addEventListener("afterprint", () => {
    document.documentElement.classList.remove("on-paper");
    map.invalidateSize({ animate: false });
    if (onScreen) map.setView(...onScreen, { animate: false });
    onScreen = null;
  });
  function whole() {
    if (site.bounds) map.fitBounds(site.bounds, site.fit); else map.setView([0, 0], 2);
  }
  byId("whole").addEventListener("click", whole);

  /* ---- scale, position, grid ---- */

  /** The greatest of 1, 2, 5 times a power of ten that is not above a length. */
  function round125(length) {
    const power = 10 ** Math.floor(Math.log10(length));
    return power * [5, 2, 1].find((step) => step * power <= length * 1.0000001);
  }
  const Scale = L.Control.extend({
    onAdd() { this.box = element("div", { className: "bar-scale" }, element("div", {}), element("div", {})); return this.box; },
    draw() {
      const widest = 140, one = pixel_m();
      [[1, 1000, "m", "km"], [1852, 1852, "m", "NM"]].forEach(([unit_m, big_m, small, big], index) => {
        let length_m = round125(widest * one / unit_m) * unit_m, text;
        if (index === 0) text = length_m >= big_m ? `${length_m / 1000} ${big}` : `${+length_m.toPrecision(1)} ${small}`;
        else text = `${+(length_m / 1852).toPrecision(1)} ${big}`;
        Object.assign(this.box.children[index].style, { width: `${length_m / one}px` });
        this.box.children[index].textContent = text;
      });
    },
  });
  const scale = new Scale({ position: "bottomleft" }).addTo(map);
  const Where = L.Control.extend({
    onAdd() { this.box = element("div", { className: "whereis" }); return this.box; },
    tell(what, latlng) { this.box.textContent = `${what} ${plotterText(latlng.lat, latlng.lng, minuteDecimals(pixel_m()))}`; },
  });
  const where = new Where({ position: "bottomleft" }).addTo(map);
  map.on("mousemove", (event) => where.tell("Pointer", event.latlng));
  map.on("mouseout", () => where.tell("Centre", map.getCenter()));

  const grid = L.layerGroup().addTo(map);
  Object.assign(map.createPane("grid").style, { zIndex: 410, pointerEvents: "none" });
  const STEPS_MIN = [0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 30, 60, 120, 300, 600, 1200, 1800];
  function drawGrid() {
    grid.clearLayers();
    const bounds = map.getBounds(), size = map.getSize(), east_min = (bounds.getEast() - bounds.getWest()) * 60;
    const step = STEPS_MIN.find((minutes) => east_min / minutes * 110 <= size.x) || 3600;
    const decimals = step >= 1 ? 0 : step >= 0.1 ? 1 : step >= 0.01 ? 2 : 3;
    const label = (latlng, text, anchor) => grid.addLayer(L.marker(latlng, { interactive: false, keyboard: false, pane: "grid",
      icon: L.divIcon({ className: "graticule-label", html: text, iconSize: null, iconAnchor: anchor }) }));
    const style = { className: "graticule", interactive: false, pane: "grid" };
    for (let k = Math.ceil(bounds.getWest() * 60 / step); k * step / 60 <= bounds.getEast(); k += 1) {
      const lon = k * step / 60;
      grid.addLayer(L.polyline([[bounds.getSouth(), lon], [bounds.getNorth(), lon]], style));
      const x = map.latLngToContainerPoint([0, lon]).x;
      if (x > 90 && x < size.x - 130) label([bounds.getNorth(), lon], degreesMinutes(wrapped(lon), decimals, "EW", 3), [-4, -4]);
    }
    for (let k = Math.ceil(Math.max(bounds.getSouth(), -85) * 60 / step); k * step / 60 <= Math.min(bounds.getNorth(), 85); k += 1) {
      const lat = k * step / 60, y = map.latLngToContainerPoint([lat, 0]).y;
      grid.addLayer(L.polyline([[lat, bounds.getWest()], [lat, bounds.getEast()]], style));
      if (y > 40 && y < size.y - 100) label([lat, bounds.getWest()], degreesMinutes(lat, decimals, "NS", 2), [-6, 14]);
    }
  }
  map.on("moveend", () => { scale.draw(); drawGrid(); where.tell("Centre", map.getCenter()); });

  byId("tools").hidden = false;
  search();
  map.fire("moveend");
})();
