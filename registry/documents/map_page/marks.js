"use strict";
/* What the page knows, and how a module and a group of modules are drawn; the layers ask for these by name. */
const site = JSON.parse(document.getElementById("site").textContent);
const moduleIcon = L.divIcon({ className: "module", iconSize: [30, 30],
  html: '<svg viewBox="0 0 30 30" aria-hidden="true"><circle cx="15" cy="15" r="11" class="dot"/><circle cx="15" cy="15" r="4" class="eye"/></svg>' });

/** A marker for [latitude, longitude, place in the list of modules]. */
function moduleMarker([lat_deg, lon_deg, row]) {
  const [tag, name] = site.modules[row], title = name ? `${tag}, ${name}` : tag;
  return Object.assign(L.marker([lat_deg, lon_deg], { icon: moduleIcon, riseOnHover: true, title, alt: `Module ${title}` }), { row });
}

/** A ring with the number of modules under it. */
function clusterIcon(cluster) {
  const count = cluster.getChildCount(), size = 38 + 6 * String(count).length;
  const icon = L.divIcon({ className: "cluster", iconSize: [size, size], html: `<span>${count}</span>` });
  cluster.options.title = `${count} modules, open`;
  return icon;
}
