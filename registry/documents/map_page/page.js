"use strict";
/* The page around the map. Typed text reaches the page through textContent alone, never as markup. */
(function () {
  const map = map_reef, areas = geo_json_areas, keepOuts = geo_json_keepouts;
  const FOUND_MOST = 50, PAGE_ROWS = 25, PRINT_ROWS = 5000;
  const allRows = [...Array(moduleCount).keys()];
  const layer = new ModuleLayer();
  let shown = allRows;
  let notation = kept.get("notation") in PARTS ? kept.get("notation") : "ddm";
  let measuring = null;
  /* Where this reader is: { lat, lng, fine_m }. It stays in this page. */
  let you = null;

  /** What is said below the map, so that it can be said again in another language. */
  let saying = () => "";
  const say = (again) => { saying = again; byId("say").textContent = again(); };

  /* ---- what is known of one module ---- */

  const placeOf = (row) => site.places[modules.place[row]];
  const writtenIn = (row, form) => positionText(modules.lat[row], modules.lon[row], form, coordinateDecimals(form, Number(modules.r95[row])));
  const decimals = (row) => decimalPair(modules.lat[row], modules.lon[row], coordinateDecimals("dd", Number(modules.r95[row])));
  const metres = (text) => decimal(`${text} m`);

  function depthText(row) {
    const [depth, u95, feet, datum] = [modules.depth[row], modules.u95[row], modules.feet[row], placeOf(row).datum];
    if (depth === "") return told("not-measured");
    const values = { depth: decimal(depth), u95: decimal(u95), feet: decimal(feet), datum };
    return told((u95 === "" ? "depth-about" : "depth") + (datum ? "-below" : u95 === "" ? "" : "-plain"), values);
  }

  const bearing = (leg) => (leg.bearing_deg === null ? "" : `, ${told("true-bearing", { bearing: bearingText(leg.bearing_deg) })}`);

  /** How far and which way a module lies from the reader; empty while nobody knows where that is. */
  function fromYou(row) {
    const leg = you && geodesic(you.lat, you.lng, modules.lat[row], modules.lon[row]);
    return leg ? decimal(lengthText(leg.distance_m, Math.max(you.fine_m, Number(modules.r95[row])))) + bearing(leg) : "";
  }

  /* ---- what a popup says ---- */

  function copied(text) {
    const done = () => say(() => told("copied", { text }));
    const byHand = () => {
      const field = element("textarea", { value: text, readOnly: true });
      field.style.position = "fixed";
      field.style.top = "0";
      document.body.append(field);
      field.select();
      const worked = document.execCommand("copy");
      field.remove();
      if (worked) done(); else say(() => told("copy-by-hand", { text }));
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

  function copyButton(text) {
    const button = element("button", { type: "button", textContent: told("copy") });
    button.addEventListener("click", () => {
      copied(text);
      button.textContent = told("copied-short");
      setTimeout(() => { button.textContent = told("copy"); }, 2000);
    });
    return button;
  }

  function modulePopup(row) {
    const [lat, lon] = decimals(row), written = writtenIn(row, notation), [tag, name] = [modules.tag[row], modules.name[row]];
    return element("div", { className: "about-module", tabIndex: -1 },
      element("h3", {}, typed(name || tag)),
      facts([[told("tag"), name ? tag : ""], [told("position-in", { notation: told(`notation-${notation}`) }), written, "place"],
        [told("lies"), told("within-95", { radius: metres(modules.r95[row]) })], [told("seabed"), depthText(row)],
        [told("stands"), modules.relief[row] && metres(modules.relief[row])], [told("placed"), site.days[modules.placed[row]]],
        [told("area"), placeOf(row).id], [told("from-you"), fromYou(row)]]),
      element("div", { className: "buttons" }, copyButton(written),
        element("a", { className: "open", href: `geo:${lat},${lon};u=${modules.r95[row]}`, textContent: told("open-app") })),
      element("p", { textContent: told("caution-title") }));
  }

  const within = L.circle([0, 0], { radius: 1, className: "within", interactive: false });
  const popup = L.popup({ maxWidth: 300, minWidth: 230, autoPanPadding: [12, 12] });
  let opened = null;
  map.on("popupopen", () => map.getContainer().classList.add("reading"));
  map.on("popupclose", () => map.getContainer().classList.remove("reading"));
  /* Leaflet words the cross of a popup itself. */
  map.on("popupopen", (event) => { const cross = event.popup.getElement().querySelector(".leaflet-popup-close-button"); if (cross) cross.setAttribute("aria-label", told("close")); });

  function openModule(row) {
    opened = row;
    within.setLatLng(latLngOf(row)).setRadius(Number(modules.r95[row])).addTo(map);
    popup.setLatLng(latLngOf(row)).setContent(modulePopup(row)).openOn(map);
    popup.getElement().querySelector(".about-module").focus({ preventScroll: true });
  }
  layer.on("press", ({ row, marker }) => { if (measuring) addPoint(marker.getLatLng(), row); else openModule(row); });
  map.on("popupclose", (event) => {
    if (event.popup !== popup) return;
    within.remove();
    const marker = opened === null ? null : layer.markerOf(opened), drawn = marker && marker.getElement();
    opened = null;
    if (drawn) drawn.focus({ preventScroll: true });
  });
  map.getContainer().addEventListener("keydown", (event) => { if (event.key === "Escape") map.closePopup(); });

  function goTo(row) {
    if (!map.hasLayer(layer)) { byId("show-modules").checked = true; map.addLayer(layer); }
    byId("map_reef").scrollIntoView({ block: "nearest" });
    map.setView(latLngOf(row), Math.max(map.getZoom(), 20), { animate: false });
    openModule(row);
  }

  areas.eachLayer((shape) => {
    const area = site.areas[shape.feature.properties.i];
    shape.bindPopup(() => element("div", {}, element("h3", {}, typed(area.id)), facts([[told("area-under"), area.permit]]),
      ...(area.page ? [element("a", { className: "open", href: area.page, textContent: told("site-page") })] : [])));
  });
  keepOuts.eachLayer((shape) => {
    const keepOut = site.keepOuts[shape.feature.properties.i];
    shape.bindPopup(() => element("div", {}, element("h3", {}, typed(keepOut.name)),
      facts([[told("keepout"), keepOut.kind], [told("setback"), told("setback-text", { setback: decimal(keepOut.setback) })]])));
  });
  [areas, keepOuts].forEach((group) => group.on("click", (event) => {
    if (measuring) { map.closePopup(); addPoint(event.latlng, null); }
  }));

  /* ---- search ---- */

  const plain = (text) => text.normalize("NFD").replace(/\p{M}/gu, "").toLowerCase();
  let haystack = null;

  function search() {
    const wanted = plain(byId("find").value).split(/\s+/).filter(Boolean);
    const before = shown;
    haystack = haystack || (wanted.length ? allRows.map((row) => plain(`${modules.tag[row]} ${modules.name[row]}`)) : null);
    shown = wanted.length ? allRows.filter((row) => wanted.every((word) => haystack[row].includes(word))) : allRows;
    if (shown !== before) { layer.show(shown); listFrom(0); }
    const list = byId("found");
    list.replaceChildren();
    if (wanted.length) {
      shown.slice(0, FOUND_MOST).forEach((row) => {
        const button = element("button", { type: "button" }, element("b", {}, typed(modules.tag[row])), typed(modules.name[row]));
        button.addEventListener("click", () => { list.replaceChildren(); goTo(row); });
        list.append(element("li", {}, button));
      });
    }
    tellCount();
  }
  function tellCount() {
    const wanted = byId("find").value.trim(), n = shown.length;
    byId("count").textContent = !wanted ? told("modules", { n: moduleCount || site.unshown }) : !n ? told("found-none")
      : told(n > FOUND_MOST ? "found-first" : "found", { n, all: moduleCount, most: FOUND_MOST });
  }
  let waiting = null;
  byId("find").addEventListener("input", () => { clearTimeout(waiting); waiting = setTimeout(search, moduleCount > 5000 ? 250 : 60); });

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

  /* ---- the list ---- */

  let first = 0;
  const byText = (column) => { const order = new Intl.Collator(language, { numeric: true }); return (one, other) => (column[one] === "") - (column[other] === "") || order.compare(column[one], column[other]); };
  const ORDERS = {
    tag: () => null,
    name: () => byText(modules.name),
    depth: () => (one, other) => (modules.depth[one] === "") - (modules.depth[other] === "") || Number(modules.depth[one]) - Number(modules.depth[other]),
    placed: () => (one, other) => site.days[modules.placed[one]].localeCompare(site.days[modules.placed[other]]),
    near: () => {
      const away_m = new Map(shown.map((row) => [row, (geodesic(you.lat, you.lng, modules.lat[row], modules.lon[row]) || { distance_m: Infinity }).distance_m]));
      return (one, other) => away_m.get(one) - away_m.get(other);
    },
  };
  let ordered = allRows;

  /** Order the modules shown anew, and list them from one on. */
  function listFrom(start) {
    const order = ORDERS[byId("sort").value]();
    ordered = order ? [...shown].sort(order) : shown;
    turnTo(start);
  }

  function line(row) {
    const name = modules.name[row], lead = element("a", { href: "#map_reef" }, typed(modules.tag[row]));
    const made = element("tr", {}, element("th", { scope: "row" }, lead));
    lead.addEventListener("click", (event) => { event.preventDefault(); goTo(row); });
    [["name", name], ["position", writtenIn(row, notation)], ["within", metres(modules.r95[row])], ["depth", depthText(row)],
      ["height", modules.relief[row] && metres(modules.relief[row])], ["placed", site.days[modules.placed[row]]], ["area", placeOf(row).id],
      ...(you ? [["from-you", fromYou(row)]] : [])].forEach(([column, text]) => {
      const cell = element("td", { className: `of-${column}` }, typed(text));
      cell.dataset.heading = told(column);
      made.append(cell);
    });
    return made;
  }

  function turnTo(start, most = PAGE_ROWS) {
    first = Math.max(0, Math.min(start, Math.floor(Math.max(0, ordered.length - 1) / PAGE_ROWS) * PAGE_ROWS));
    const last = Math.min(first + most, ordered.length);
    document.querySelector("th.from-you").hidden = !you;
    byId("rows").replaceChildren(...ordered.slice(first, last).map(line));
    byId("list-range").textContent = ordered.length ? told("list-range", { from: first + 1, to: last, n: ordered.length }) : told("found-none");
    byId("earlier").disabled = first === 0;
    byId("later").disabled = last >= ordered.length;
    byId("pages").hidden = ordered.length <= PAGE_ROWS;
  }
  byId("sort").addEventListener("change", () => listFrom(0));
  [["earlier", -PAGE_ROWS], ["later", PAGE_ROWS]].forEach(([id, step]) => byId(id).addEventListener("click", () => {
    turnTo(first + step);
    byId("positions").scrollIntoView({ block: "start" });
    const next = byId(id).disabled ? byId("rows").querySelector("a") : null;
    if (next) next.focus();
  }));
  /* The arrows walk down the list without a stop at every cell. */
  byId("rows").addEventListener("keydown", (event) => {
    const links = [...byId("rows").querySelectorAll("a")], at = links.indexOf(document.activeElement);
    const to = { ArrowDown: at + 1, ArrowUp: at - 1, Home: 0, End: links.length - 1 }[event.key];
    if (to === undefined || at < 0 || !links[to]) return;
    event.preventDefault();
    links[to].focus();
  });

  /* ---- measure ---- */

  const measured = L.polyline([], { className: "measured", interactive: false });
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
    if (!leg) return told("opposite");
    const spread_m = Math.hypot(from.r95_m, to.r95_m), text = decimal(lengthText(leg.distance_m, Math.max(from.fine_m, to.fine_m))) + bearing(leg);
    return spread_m ? `${text}; ${told("known-within", { radius: metres(spread_m < 10 ? spread_m.toFixed(1) : spread_m.toFixed(0)) })}` : text;
  }

  function drawMeasure() {
    measured.setLatLngs(measuring.map((point) => [point.lat, point.lng]));
    pins.clearLayers();
    measuring.forEach((point, index) => {
      pins.addLayer(L.marker([point.lat, point.lng], { interactive: false, keyboard: false, zIndexOffset: 5000,
        icon: L.divIcon({ className: "marked", html: String(index + 1), iconSize: [24, 24] }) }));
    });
    byId("legs").replaceChildren(...measuring.slice(1).map((to, index) =>
      element("li", { textContent: told("leg", { from: index + 1, to: index + 2, leg: legText(measuring[index], to) }) })));
    byId("legs").scrollTop = byId("legs").scrollHeight;
    if (measuring.length > 2) {
      const total = measuring.slice(1).reduce((sum, to, index) => {
        const leg = geodesic(measuring[index].lat, measuring[index].lng, to.lat, to.lng);
        return sum + (leg ? leg.distance_m : NaN);
      }, 0);
      if (Number.isFinite(total)) byId("legs").append(element("li", { textContent: told("total", { length: decimal(lengthText(total, Math.max(...measuring.map((point) => point.fine_m)))) }) }));
    }
  }

  function addPoint(latlng, row) {
    const r95_m = row === null ? 0 : Number(modules.r95[row]);
    measuring.push({ lat: latlng.lat, lng: latlng.lng, fine_m: r95_m || pixel_m(), r95_m });
    drawMeasure();
  }

  const cross = element("div", { className: "cross", innerHTML: '<svg viewBox="0 0 30 30" aria-hidden="true"><path d="M15 0V12M15 18V30M0 15H12M18 15H30"/></svg>' });
  function measure(on) {
    measuring = on ? [] : null;
    byId("measure").setAttribute("aria-pressed", String(on));
    byId("measuring").hidden = !on;
    if (on) { map.closePopup(); measured.addTo(map); pins.addTo(map); map.getContainer().append(cross); drawMeasure(); } else { measured.remove(); pins.remove(); cross.remove(); }
    map.getContainer().style.cursor = on ? "crosshair" : "";
  }
  byId("measure").addEventListener("click", () => measure(!measuring));
  byId("done").addEventListener("click", () => { measure(false); byId("measure").focus(); });
  byId("undo").addEventListener("click", () => { measuring.pop(); drawMeasure(); });
  byId("add-centre").addEventListener("click", () => addPoint(map.getCenter(), null));
  map.on("click", (event) => { if (measuring) addPoint(event.latlng, null); });

  /* ---- where the reader is ---- */

  const here = L.layerGroup().addTo(map);
  /* Above the marks of modules and their groups, below popups; what lies under it can still be pressed. */
  Object.assign(map.createPane("here").style, { zIndex: 640, pointerEvents: "none" });
  /* Whoever is nearer than this sees the nearest module beside the own mark. */
  const FAR_M = 50000;
  /* While the device is followed, the list is ordered and the nearest found no more often than this. */
  const PAUSE_MS = 3000;
  let watched = null, followed = 0;

  /** Say something where it is seen: on a phone the line below the map may be off the screen. */
  function sayInView(again) {
    say(again);
    byId("say").scrollIntoView({ block: "nearest" });
  }

  function nearestOf(rows) {
    let nearest = null;
    rows.forEach((row) => {
      const leg = geodesic(you.lat, you.lng, modules.lat[row], modules.lon[row]);
      if (leg && (!nearest || leg.distance_m < nearest.leg.distance_m)) nearest = { leg, row };
    });
    return nearest;
  }

  /** Take a position of the reader, draw it, and tell the nearest module; show both the first time. */
  function stand(lat, lng, fine_m, words, look) {
    you = { lat, lng, fine_m };
    const beside = besideMiddle(lng);
    here.clearLayers();
    const around = L.circle([lat, beside], { radius: fine_m, className: "here", interactive: false, pane: "here" });
    here.addLayer(around);
    ["here-edge", "here-mark"].forEach((className) => {
      here.addLayer(L.circleMarker([lat, beside], { radius: 11, className, interactive: false, pane: "here" }));
    });
    const nearest = nearestOf(shown);
    byId("sort").querySelector("[value=near]").disabled = false;
    if (look) byId("sort").value = "near";
    if (look || document.activeElement === null || !byId("rows").contains(document.activeElement)) listFrom(look ? 0 : first);
    if (opened !== null && !popup.getElement().contains(document.activeElement)) popup.setContent(modulePopup(opened));
    if (look) {
      if (nearest && nearest.leg.distance_m < FAR_M) map.fitBounds(around.getBounds().extend(latLngOf(nearest.row)), { padding: [50, 50], maxZoom: 18, animate: false });
      else map.setView([lat, beside], Math.max(map.getZoom(), 12), { animate: false });
    }
    const again = () => words() + (nearest ? ` ${told("nearest", { tag: modules.tag[nearest.row], length: decimal(lengthText(nearest.leg.distance_m, Math.max(fine_m, 1))) + bearing(nearest.leg) })} ${told("caution-title")}` : "");
    if (look) sayInView(again); else say(again);
  }

  function stopWatching() {
    if (watched !== null) navigator.geolocation.clearWatch(watched);
    watched = null;
    byId("locate").setAttribute("aria-pressed", "false");
  }
  function located(position) {
    const { latitude, longitude, accuracy } = position.coords, soon = Date.now() - followed < PAUSE_MS;
    if (watched !== null && followed && soon) return;
    const look = !followed;
    followed = Date.now();
    stand(latitude, longitude, accuracy, () => told("own-position", { radius: `${Math.max(1, Math.round(accuracy))} m` }), look);
  }
  byId("locate").addEventListener("click", () => {
    if (watched !== null) { stopWatching(); say(() => told("not-followed")); return; }
    if (!navigator.geolocation) { sayInView(() => told("no-geolocation")); return; }
    sayInView(() => told("asking"));
    followed = 0;
    byId("locate").setAttribute("aria-pressed", "true");
    /* A device that cannot tell just now may do so in a while; one that may not tell is asked no more. */
    const failed = (error) => {
      if (error.code === 1) stopWatching();
      sayInView(() => told({ 1: "refused", 3: "too-long" }[error.code] || "cannot-tell"));
    };
    watched = navigator.geolocation.watchPosition(located, failed, { enableHighAccuracy: true, timeout: 20000, maximumAge: 10000 });
  });
  byId("from-form").addEventListener("submit", (event) => {
    event.preventDefault();
    const place = typedPosition(byId("from").value);
    byId("from").setAttribute("aria-invalid", String(!place));
    if (!place) { sayInView(() => told("from-unreadable")); return; }
    stopWatching();
    stand(...place, 1, () => told("typed-position", { position: positionText(...place, notation, 3 - (notation === "dms") + 2 * (notation === "dd")) }), true);
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

  function track(title, about, shape) {
    const runs = linesOf(shape.feature.geometry).flatMap(segments).filter((run) => run.length > 1);
    if (!runs.length) return "";
    return `<trk><name>${xml(title)}</name><desc>${xml(about)}</desc>${runs.map((run) =>
      `<trkseg>${run.map(([lon, lat]) => `<trkpt lat="${lat.toFixed(7)}" lon="${lonText(lon)}"/>`).join("")}</trkseg>`).join("")}</trk>\n`;
  }

  function gpx() {
    const points = map.hasLayer(layer) ? shown.map((row) => {
      const [lat, lon] = decimals(row), day = site.days[modules.placed[row]];
      const about = [modules.name[row], told("within-95", { radius: metres(modules.r95[row]) }), depthText(row), `${told("placed")} ${day}`, told("epoch-frame"), told("caution-title")];
      return `<wpt lat="${lat}" lon="${lon}"><name>${xml(modules.tag[row])}</name><desc>${xml(about.filter(Boolean).join("; "))}</desc></wpt>\n`;
    }) : [];
    const tracks = [];
    if (map.hasLayer(areas)) areas.eachLayer((shape) => {
      const area = site.areas[shape.feature.properties.i];
      tracks.push(track(area.id, `${told("area-under")} ${area.permit}`, shape));
    });
    if (map.hasLayer(keepOuts)) keepOuts.eachLayer((shape) => {
      const keepOut = site.keepOuts[shape.feature.properties.i];
      tracks.push(track(told("keep-clear", { name: keepOut.name }), `${keepOut.kind}; ${told("setback-text", { setback: decimal(keepOut.setback) })}`, shape));
    });
    return '<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="1.1" creator="Leadline" xmlns="http://www.topografix.com/GPX/1/1">\n'
      + `<metadata><name>${xml(site.programme)}</name><desc>${xml(`${told("lede")} ${told("epoch-frame")}. ${told("caution-title")} ${told("caution")}`)}</desc></metadata>\n`
      + points.join("") + tracks.join("") + "</gpx>\n";
  }
  byId("gpx").addEventListener("click", () => {
    const address = URL.createObjectURL(new Blob([gpx()], { type: "application/gpx+xml" }));
    const link = element("a", { href: address, download: `${site.file}.gpx` });
    document.body.append(link);
    link.click();
    link.remove();
    setTimeout(() => URL.revokeObjectURL(address), 10000);
    const n = map.hasLayer(layer) ? shown.length : 0;
    say(() => `${told("gpx-written", { n })} ${told("caution-title")}`);
  });

  /* ---- layers, areas, paper ---- */

  [["show-modules", layer], ["show-areas", areas], ["show-keepouts", keepOuts]].forEach(([id, group]) => {
    byId(id).addEventListener("change", (event) => { if (event.target.checked) map.addLayer(group); else map.removeLayer(group); });
  });
  function showShape(group, index) {
    group.eachLayer((shape) => {
      if (shape.feature.properties.i !== index) return;
      map.fitBounds(shape.getBounds ? shape.getBounds() : L.latLngBounds([shape.getLatLng()]), { padding: [30, 30], maxZoom: 18, animate: false });
      map.openPopup(shape.getPopup().setLatLng(shape.getCenter ? shape.getCenter() : shape.getLatLng ? shape.getLatLng() : shape.getBounds().getCenter()));
    });
  }
  document.querySelector(".areas").addEventListener("click", (event) => {
    const link = event.target.closest("a[data-group]");
    if (!link) return;
    event.preventDefault();
    showShape(link.dataset.group === "area" ? areas : keepOuts, Number(link.dataset.i));
    byId("map_reef").scrollIntoView({ block: "nearest" });
  });
  let onScreen = null;
  window.addEventListener("beforeprint", () => {
    const seen = map.getBounds();
    onScreen = { centre: map.getCenter(), zoom: map.getZoom(), first };
    turnTo(0, PRINT_ROWS);
    document.documentElement.classList.add("on-paper");
    map.invalidateSize({ animate: false }).fitBounds(seen, { animate: false });
  });
  window.addEventListener("afterprint", () => {
    document.documentElement.classList.remove("on-paper");
    map.invalidateSize({ animate: false });
    if (onScreen) { map.setView(onScreen.centre, onScreen.zoom, { animate: false }); turnTo(onScreen.first); }
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
        this.box.children[index].textContent = decimal(text);
      });
    },
  });
  const scale = new Scale({ position: "bottomleft" }).addTo(map);
  const Where = L.Control.extend({
    onAdd() { this.box = element("div", { className: "whereis" }); return this.box; },
    tell(what, latlng) { this.box.textContent = `${told(what)} ${positionText(latlng.lat, latlng.lng, notation, pointedDecimals(notation, pixel_m()))}`; },
  });
  const where = new Where({ position: "bottomleft" }).addTo(map);
  map.on("mousemove", (event) => where.tell("pointer", event.latlng));
  map.on("mouseout", () => where.tell("centre", map.getCenter()));

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
  map.on("moveend", () => { scale.draw(); drawGrid(); where.tell("centre", map.getCenter()); });

  /* ---- language, notation, light ---- */

  function drawLegend() {
    const counts = Array(BANDS + 1).fill(0);
    allRows.forEach((row) => { counts[bandOf(row)] += 1; });
    byId("bands").replaceChildren(...counts.map((n, band) => {
      const drawn = element("span", { className: "swatch", innerHTML: discs[band] });
      return element("li", {}, drawn, element("span", { textContent: bandWords(band) }), element("span", { className: "many", textContent: n.toLocaleString(language) }));
    }).filter((_, band) => band < BANDS || counts[band]));
  }

  /** Say the whole page in the language, notation and light chosen. */
  function sayAll() {
    document.documentElement.lang = language;
    document.title = told("title");
    speak(document);
    drawLegend();
    tellCount();
    byId("say").textContent = saying();
    if (measuring) drawMeasure();
    map.closePopup();
    layer.clear();
    if (map.hasLayer(layer)) layer.draw();
    turnTo(first);
    where.tell("centre", map.getCenter());
    ["zoom-in", "zoom-out"].forEach((key) => {
      const button = document.querySelector(`.leaflet-control-${key}`);
      button.title = told(key);
      button.setAttribute("aria-label", told(key));
    });
  }
  byId("language").value = language;
  byId("notation").value = notation;
  byId("theme").value = kept.get("theme") || "auto";
  byId("language").addEventListener("change", (event) => { language = event.target.value; kept.set("language", language); sayAll(); });
  byId("notation").addEventListener("change", (event) => { notation = event.target.value; kept.set("notation", notation); sayAll(); });
  byId("theme").addEventListener("change", (event) => { kept.set("theme", event.target.value); lighten(); });

  ["settings", "tools", "list-tools", "list-box"].forEach((id) => { byId(id).hidden = false; });
  layer.show(allRows);
  sayAll();
  layer.addTo(map);
  map.fire("moveend");
  const asked = /^#area-(\d+)$/.exec(location.hash);
  if (asked) showShape(areas, Number(asked[1]));
  /* A search elsewhere leads to one module: a tag is an address only where it is on this map. */
  const named = location.hash.startsWith("#module-") ? decoded(location.hash.slice(8)) : null;
  if (named !== null && modules.tag.includes(named)) goTo(modules.tag.indexOf(named));
  function decoded(text) { try { return decodeURIComponent(text); } catch { return null; } }
})();
