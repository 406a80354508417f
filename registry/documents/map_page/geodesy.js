"use strict";
/* Distances, bearings and written coordinates on WGS 84. Degrees in, metres and degrees out; no page, no map. */

/**
 * The geodesic between two positions.
 *
 * Returns { distance_m, bearing_deg }, the bearing true, at the first position, from 0 up to 360; bearing_deg is null
 * where both positions are the same. Returns null for nearly opposite points of the earth, where the series does not settle.
 *
 * Source: T. Vincenty, Direct and inverse solutions of geodesics on the ellipsoid, Survey Review 23 (176), 1975.
 */
function geodesic(lat1_deg, lon1_deg, lat2_deg, lon2_deg) {
  const a = 6378137, f = 1 / 298.257223563, b = a * (1 - f), rad = Math.PI / 180;
  const difference_deg = ((lon2_deg - lon1_deg + 540) % 360 + 360) % 360 - 180;
  if (lat1_deg === lat2_deg && difference_deg === 0) return { distance_m: 0, bearing_deg: null };
  const along = difference_deg * rad;
  const u1 = Math.atan((1 - f) * Math.tan(lat1_deg * rad)), u2 = Math.atan((1 - f) * Math.tan(lat2_deg * rad));
  const sin1 = Math.sin(u1), cos1 = Math.cos(u1), sin2 = Math.sin(u2), cos2 = Math.cos(u2);
  let lambda = along;
  for (let round = 0; round < 200; round += 1) {
    const sinLambda = Math.sin(lambda), cosLambda = Math.cos(lambda);
    const east = cos2 * sinLambda, north = cos1 * sin2 - sin1 * cos2 * cosLambda;
    const sinSigma = Math.hypot(east, north), cosSigma = sin1 * sin2 + cos1 * cos2 * cosLambda;
    if (sinSigma === 0) return cosSigma > 0 ? { distance_m: 0, bearing_deg: null } : null;
    const sigma = Math.atan2(sinSigma, cosSigma);
    const sinAlpha = cos1 * cos2 * sinLambda / sinSigma, cosSqAlpha = 1 - sinAlpha * sinAlpha;
    const cosMiddle = cosSqAlpha > 0 ? cosSigma - 2 * sin1 * sin2 / cosSqAlpha : 0;
    const c = f / 16 * cosSqAlpha * (4 + f * (4 - 3 * cosSqAlpha));
    const before = lambda;
    lambda = along + (1 - c) * f * sinAlpha
      * (sigma + c * sinSigma * (cosMiddle + c * cosSigma * (2 * cosMiddle * cosMiddle - 1)));
    if (Math.abs(lambda) > Math.PI) return null;
    if (Math.abs(lambda - before) < 1e-12) {
      const k = cosSqAlpha * (a * a - b * b) / (b * b);
      const A = 1 + k / 16384 * (4096 + k * (-768 + k * (320 - 175 * k)));
      const B = k / 1024 * (256 + k * (-128 + k * (74 - 47 * k)));
      const turn = B * sinSigma * (cosMiddle + B / 4 * (cosSigma * (2 * cosMiddle * cosMiddle - 1)
        - B / 6 * cosMiddle * (4 * sinSigma * sinSigma - 3) * (4 * cosMiddle * cosMiddle - 3)));
      return { distance_m: b * A * (sigma - turn), bearing_deg: (Math.atan2(east, north) / rad + 360) % 360 };
    }
  }
  return null;
}

/** Longitude brought into [-180, 180); one that lies there keeps every digit. */
function wrapped(lon_deg) {
  if (lon_deg >= -180 && lon_deg < 180) return lon_deg;
  return ((lon_deg + 180) % 360 + 360) % 360 - 180;
}

/** One angle as degrees and minutes, "34 01.250 N"; rounded once, so minutes never read 60. */
function degreesMinutes(angle_deg, decimals, letters, width) {
  const unit = 10 ** decimals, total = Math.round(Math.abs(angle_deg) * 60 * unit);
  const degrees = Math.floor(total / (60 * unit)), minutes = (total - degrees * 60 * unit) / unit;
  const text = minutes.toFixed(decimals).padStart(decimals ? 3 + decimals : 2, "0");
  return `${String(degrees).padStart(width, "0")} ${text} ${angle_deg < 0 && total > 0 ? letters[1] : letters[0]}`;
}

/** One angle as degrees, minutes and seconds, "34 01 15.0 N"; rounded once, so nothing ever reads 60. */
function degreesMinutesSeconds(angle_deg, decimals, letters, width) {
  const unit = 10 ** decimals, total = Math.round(Math.abs(angle_deg) * 3600 * unit);
  const degrees = Math.floor(total / (3600 * unit)), rest = total - degrees * 3600 * unit;
  const minutes = Math.floor(rest / (60 * unit)), seconds = (rest - minutes * 60 * unit) / unit;
  const parts = [String(degrees).padStart(width, "0"), String(minutes).padStart(2, "0"), seconds.toFixed(decimals).padStart(decimals ? 3 + decimals : 2, "0")];
  return `${parts.join(" ")} ${angle_deg < 0 && total > 0 ? letters[1] : letters[0]}`;
}

/** Longitude brought into [-180, 180), also where the digits it is written with would round it up to 180. */
function writable(lon_deg, parts, decimals) {
  const lon = wrapped(lon_deg), unit = parts * 10 ** decimals;
  return lon > 0 && Math.round(lon * unit) === 180 * unit ? -180 : lon;
}

/** A position as a plotter takes it, "34 01.250 N 077 20.110 W". */
function plotterText(lat_deg, lon_deg, decimals) {
  return `${degreesMinutes(lat_deg, decimals, "NS", 2)} ${degreesMinutes(writable(lon_deg, 60, decimals), decimals, "EW", 3)}`;
}

/** Latitude and longitude in decimal degrees, each a text; nothing reads -0. */
function decimalPair(lat_deg, lon_deg, decimals) {
  return [lat_deg, writable(lon_deg, 1, decimals)].map((angle) => angle.toFixed(decimals).replace(/^-(?=[0.]*$)/, ""));
}

/** How many of its last parts a notation has in a degree. */
const PARTS = { dd: 1, ddm: 60, dms: 3600 };

/** A position in decimal degrees ("dd"), degrees and minutes ("ddm") or with seconds ("dms"). */
function positionText(lat_deg, lon_deg, notation, decimals) {
  if (notation === "dd") return decimalPair(lat_deg, lon_deg, decimals).join(", ");
  if (notation === "ddm") return plotterText(lat_deg, lon_deg, decimals);
  return `${degreesMinutesSeconds(lat_deg, decimals, "NS", 2)} ${degreesMinutesSeconds(writable(lon_deg, 3600, decimals), decimals, "EW", 3)}`;
}

/** The fewest decimals whose last unit, by the longest degree of 111,320 m, is at most a third of R95. */
function coordinateDecimals(notation, r95_m) {
  for (let decimals = 0; decimals < 9; decimals += 1)
    if (111320 / PARTS[notation] / 10 ** decimals <= r95_m / 3) return decimals;
  return 9;
}

/** Decimals that a resolution in metres supports where one points at a map: the last digit is no finer than it. */
function pointedDecimals(notation, resolution_m) {
  return Math.min(7, Math.max(0, Math.floor(Math.log10(111120 / PARTS[notation] / resolution_m))));
}

/**
 * A position as a person types it: decimal degrees with signs, "34.0208, -77.3352", or parts with hemispheres,
 * "34 01.250 N 077 20.110 W". Gives [latitude, longitude], or null for whatever could be read in two ways.
 */
function typedPosition(text) {
  const plain = text.trim().toUpperCase().replace(/[\u00B0\u2032\u2033\u2019\u201D'":]/g, " ").replace(/\u2212/g, "-");
  const decimal = /^([+-]?\d{1,2}\.\d+)\s*[,;\s]\s*([+-]?\d{1,3}\.\d+)$/.exec(plain);
  if (decimal) return onEarth(Number(decimal[1]), Number(decimal[2]));
  const side = "(\\d{1,3}(?:\\.\\d+)?|\\d{1,3}\\s+\\d{1,2}(?:\\.\\d+)?|\\d{1,3}\\s+\\d{1,2}\\s+\\d{1,2}(?:\\.\\d+)?)\\s*";
  const lettered = new RegExp(`^${side}([NS])[\\s,;]*${side}([EW])$`).exec(plain);
  if (!lettered) return null;
  const [lat, lon] = [[lettered[1], lettered[2]], [lettered[3], lettered[4]]].map(([parts, letter]) => {
    const [degrees, minutes = 0, seconds = 0] = parts.trim().split(/\s+/).map(Number);
    return minutes < 60 && seconds < 60 ? (letter === "S" || letter === "W" ? -1 : 1) * (degrees + minutes / 60 + seconds / 3600) : NaN;
  });
  return onEarth(lat, lon);
}
function onEarth(lat_deg, lon_deg) {
  return Math.abs(lat_deg) <= 90 && Math.abs(lon_deg) <= 180 ? [lat_deg, lon_deg] : null;
}

/** A length in metres and nautical miles, no finer than the resolution of what was pointed at. */
function lengthText(length_m, resolution_m) {
  const decimals = Math.min(1, Math.max(0, -Math.floor(Math.log10(resolution_m))));
  if (length_m < 1000) return `${length_m.toFixed(decimals)} m`;
  const digits = length_m < 100000 ? 2 : 0;
  return `${(length_m / 1000).toFixed(digits)} km (${(length_m / 1852).toFixed(digits)} NM)`;
}

/** A true bearing in three figures, "047"; 360 is written 000. */
function bearingText(bearing_deg) {
  return String(Math.round(bearing_deg) % 360).padStart(3, "0");
}
