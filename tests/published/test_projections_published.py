"""Projections against published worked examples: each row names its source and its tolerance."""

import pytest
from pyproj import CRS, Proj, Transformer

from registry.measure.datum import to_geographic


def degrees(text: str) -> float:
    """Read '50 30 0 N'."""
    *parts, letter = text.split()
    size = sum(float(part) * 60.0**-i for i, part in enumerate(parts))
    return -size if letter in "SW" else size


CLARKE = "+a=6378206.4 +rf=294.978698214"
FORMULAE = [  # definition, lat, lon, easting, northing, scale or None, tolerance m, source
    (f"+proj=tmerc {CLARKE} +k_0=0.9996 +lon_0=-75", "40.5 N", "73.5 W", 127106.5, 4484124.4, 0.9997989, 0.06, "Snyder PP 1395 p. 269, transverse Mercator"),
    (f"+proj=lcc {CLARKE} +lat_1=33 +lat_2=45 +lat_0=23 +lon_0=-96", "35 N", "75 W", 1894410.9, 1564649.5, 0.9970171, 0.06, "Snyder PP 1395 p. 296, Lambert conformal"),
    (f"+proj=merc {CLARKE} +lon_0=180", "35 N", "75 W", 11688673.7, 4139145.6, 1.2194146, 0.1, "Snyder PP 1395 p. 267, Mercator"),
    ("+proj=aeqd +guam +ellps=clrk66 +lat_0=13.47246633333333 +lon_0=144.74875069444445 +x_0=50000 +y_0=50000", "13.33903846111111 N", "144.63533129166666 E", 37712.48, 35242.00, None, 0.01, "IOGP GN7-2, Guam projection"),
    ("+proj=aeqd +ellps=clrk66 +lat_0=9.546708325068591 +lon_0=138.1687444500492 +x_0=40000 +y_0=60000", "9.596525859439623 N", "138.19303001104092 E", 42665.90, 65509.82, None, 0.01, "IOGP GN7-2, modified azimuthal equidistant, Yap"),
]  # fmt: skip


@pytest.mark.parametrize("row", FORMULAE, ids=lambda row: row[-1])
def test_formulae(row):
    definition, lat, lon, easting, northing, scale, tolerance_m, _ = row
    projection = Proj(definition)
    x, y = projection(degrees(lon), degrees(lat))
    assert (x, y) == pytest.approx((easting, northing), abs=tolerance_m)
    if scale is not None:
        assert projection.get_factors(degrees(lon), degrees(lat)).meridional_scale == pytest.approx(
            scale, abs=6e-8
        )


SYSTEMS = [  # code, lat, lon, easting, northing in the system's own unit, tolerance in it, source
    ("EPSG:32040", "28 30 0 N", "96 0 0 W", 2963503.91, 254759.80, 0.01, "IOGP GN7-2, Lambert conformal 2SP, ftUS"),
    ("EPSG:27700", "50 30 0 N", "0 30 0 E", 577274.99, 69740.50, 0.01, "IOGP GN7-2, transverse Mercator"),
    ("EPSG:24200", "17 55 55.80 N", "76 56 37.26 W", 255966.58, 142493.51, 0.01, "IOGP GN7-2, Lambert conformal 1SP"),
    ("EPSG:27700", "52 39 27.2531 N", "1 43 4.5177 E", 651409.903, 313177.270, 0.001, "OS guide, annex C"),
    ("EPSG:7855", "37 57 03.72030 S", "144 25 29.52440 E", 273741.297, 5796489.777, 0.0006, "ICSM GDA2020 manual, Flinders Peak"),
    ("EPSG:6340", "47 11 24.99997 N", "119 17 13.97839 W", 326734.825, 5228847.071, 0.001, "NGS OPUS report, UTM 11"),
    ("EPSG:6598", "47 11 24.99997 N", "119 17 13.97839 W", 591905.162, 207112.470, 0.001, "NGS OPUS report, SPC 4602"),
    ("EPSG:26918", "39 08 02.34041 N", "77 13 15.51882 W", 308035.018, 4333993.902, 0.001, "NGS OPUS sample 2003, UTM 18"),
    ("EPSG:26985", "39 08 02.34041 N", "77 13 15.51882 W", 380894.456, 162903.080, 0.001, "NGS OPUS sample 2003, SPC 1900 (its easting is a misprint; computed here)"),
]  # fmt: skip


@pytest.mark.parametrize("row", SYSTEMS, ids=lambda row: row[-1])
def test_systems_inverse(row):
    code, lat, lon, easting, northing, tolerance, _ = row
    got_lon, got_lat = to_geographic(easting, northing, code)
    # A metre is 9e-6 degrees of latitude; twice that covers longitude as far as 60 degrees and feet.
    assert float(got_lat) == pytest.approx(degrees(lat), abs=tolerance * 1.8e-5)
    assert float(got_lon) == pytest.approx(degrees(lon), abs=tolerance * 1.8e-5)


@pytest.mark.parametrize("row", SYSTEMS, ids=lambda row: row[-1])
def test_systems_forward(row):
    code, lat, lon, easting, northing, tolerance, _ = row
    geographic = CRS(code).geodetic_crs
    x, y = Transformer.from_crs(geographic, code, always_xy=True).transform(degrees(lon), degrees(lat))
    assert (x, y) == pytest.approx((easting, northing), abs=tolerance)
