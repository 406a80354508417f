// The map of a permit: layers come as data, every name stays text.
"use strict";

const SHAPES = { area: "area-shape", setback: "setback", "keep-out": "keep-out", baseline: "baseline", target: "target" };

function named(feature, layer) {
  const text = document.createElement("span");
  text.textContent = feature.properties.name;
  layer.bindTooltip(text, { sticky: true });
}

async function draw(box) {
  const answer = await fetch(box.dataset.layers, { headers: { accept: "application/json" } });
  if (!answer.ok) return;
  const data = await answer.json();
  box.hidden = false;
  for (const key of document.querySelectorAll(".key")) key.hidden = false;
  for (const plan of document.querySelectorAll("details.plan")) plan.open = false;
  const map = L.map(box, { crs: L.CRS.EPSG3395, attributionControl: false, maxZoom: 22, zoomSnap: 0.5 });
  L.control.scale({ maxWidth: 140 }).addTo(map);
  map.fitBounds(data.bounds ? [data.bounds.slice(0, 2), data.bounds.slice(2)] : [[-60, -170], [70, 170]], { padding: [28, 28], animate: false });
  L.geoJSON(data.coast, { interactive: false, style: (feature) => ({ className: feature.properties.kind }) }).addTo(map);
  L.geoJSON(data.layers, {
    style: (feature) => ({ className: SHAPES[feature.properties.kind] }),
    pointToLayer: (feature, at) => L.circleMarker(at, { radius: 6, className: SHAPES[feature.properties.kind] }),
    onEachFeature: named,
  }).addTo(map);
  box.dataset.drawn = String(data.layers.features.length);
}

for (const box of document.querySelectorAll(".map[data-layers]")) draw(box);
