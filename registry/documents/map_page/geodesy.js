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

/** Longitude brought into [-180, 180). */
function wrapped(lon_deg) {
  return ((lon_deg + 180) % 360 + 360) % 360 - 180;
}

/** One angle as degrees and minutes, "34 01.250 N"; rounded once, so minutes never read 60. */
function degreesMinutes(angle_deg, decimals, letters, width) {
  const unit = 10 ** decimals, total = Math.round(Math.abs(angle_deg) * 60 * unit);
  const degrees = Math.floor(total / (60 * unit)), minutes = (total - degrees * 60 * unit) / unit;
  const text = minutes.toFixed(decimals).padStart(decimals ? 3 + decimals : 2, "0");
  return `${String(degrees).padStart(width, "0")} ${text} ${angle_deg < 0 && total > 0 ? letters[1] : letters[0]}`;
}

/** A position as a plotter takes it, "34 01.250 N 077 20.110 W". */
function plotterText(lat_deg, lon_deg, decimals) {
  let lon = wrapped(lon_deg);
  if (lon > 0 && Math.round(lon * 60 * 10 ** decimals) === 10800 * 10 ** decimals) lon = -180;
  return `${degreesMinutes(lat_deg, decimals, "NS", 2)} ${degreesMinutes(lon, decimals, "EW", 3)}`;
}

/** Decimals of a minute that a resolution in metres supports: the last digit is no finer than it. */
function minuteDecimals(resolution_m) {
  return Math.min(4, Math.max(0, Math.floor(Math.log10(1852 / resolution_m))));
}

/** A length in metres and nautical miles, no finer than the resolution of what was pointed at. */
function lengthText(length_m, resolution_m) {
  const decimals = Math.min(1, Math.max(0, -Math.floor(Math.log10(resolution_m))));
  if (length_m < 1000) return `${length_m.toFixed(decimals)} m`;
  const digits = length_m < 100000 ? 2 : 0;
  return `${(length_m / 1000).toFixed(digits)} km (${(length_m / 1852).toFixed(digits)} NM)`;
}

/** A true bearing, "047° true"; 360 is written 000. */
function bearingText(bearing_deg) {
  return `${String(Math.round(bearing_deg) % 360).padStart(3, "0")}° true`;
}
