"""Datum operations against published coordinates: each row names its source and its tolerance."""

import math
import struct
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from pyproj import Geod, Transformer

from registry.measure.datum import transform
from registry.measure.plate_motion import velocity

GRS80 = Geod(ellps="GRS80")
ROOT = Path(__file__).parents[2]


def degrees(text: str) -> float:
    """Read 'N34 34 50.18422'."""
    whole, minutes, seconds = (float(part) for part in text[1:].split())
    size = whole + minutes / 60 + seconds / 3600
    return -size if text[0] in "SW" else size


def apart_mm(lon: object, lat: object, other_lon: float, other_lat: float) -> float:
    return float(GRS80.inv(float(lon), float(lat), other_lon, other_lat)[2]) * 1000.0  # type: ignore[arg-type]


CORS = [  # NGS file NADCON5.NAD83_2011.IGS08.in: NAD83(2011) at 2010.0 and IGS08 at 2010.0; tolerance mm
    ("N28 27 35.82734", "W080 32 43.70255", "N28 27 35.84819", "W080 32 43.71907", 2.0),
    ("N32 45 27.21442", "W079 50 34.33391", "N32 45 27.23904", "W079 50 34.35130", 2.0),
]


@pytest.mark.parametrize("row", CORS, ids=["NGS station CCV6", "NGS station CHA1"])
def test_ngs_stations_in_both_frames(row):
    lat, lon, lat_08, lon_08, tolerance_mm = row
    there = transform(degrees(lon), degrees(lat), source="NAD83(2011)", target="ITRF2008", epoch=2010.0)
    assert apart_mm(there.lon_deg, there.lat_deg, degrees(lon_08), degrees(lat_08)) < tolerance_mm
    back = transform(degrees(lon_08), degrees(lat_08), source="ITRF2008", target="NAD83(2011)", epoch=2010.0)
    assert apart_mm(back.lon_deg, back.lat_deg, degrees(lon), degrees(lat)) < tolerance_mm


@pytest.mark.parametrize(("epoch", "least_mm"), [(2005.0, 50.0), (2026.9, 200.0)])
@pytest.mark.parametrize("row", CORS, ids=["NGS station CCV6", "NGS station CHA1"])
def test_the_epoch_is_really_used(row, epoch, least_mm):
    lat, lon, lat_08, lon_08, _ = row
    wrong = transform(degrees(lon), degrees(lat), source="NAD83(2011)", target="ITRF2008", epoch=epoch)
    assert apart_mm(wrong.lon_deg, wrong.lat_deg, degrees(lon_08), degrees(lat_08)) > least_mm


VECTORS = [  # 14-parameter transformation written out by hand from the numbers of EPSG:10334; tolerance deg
    ("NAD83(2011)", -78.0, 33.0, -78.0000069337, 33.0000076810, 1.5e-10),
    ("NAD83(2011)", -118.0, 33.0, -118.0000162119, 33.0000016443, 1.5e-10),
]


@pytest.mark.parametrize("row", VECTORS, ids=["EPSG:10334 by hand, 78 W", "EPSG:10334 by hand, 118 W"])
def test_written_out_helmert(row):
    source, lon, lat, lon_there, lat_there, tolerance_deg = row
    there = transform(lon, lat, source=source, target="WGS 84", epoch=2026.9)
    assert float(there.lon_deg) == pytest.approx(lon_there, abs=tolerance_deg)
    assert float(there.lat_deg) == pytest.approx(lat_there, abs=tolerance_deg)


SHIFTS = [  # how far the null operation would be wrong, and toward where; computed independently, 1 mm, 0.01 deg
    ("NAD83(2011)", -78.0, 33.0, 1.0703, 322.74),
    ("NAD83(2011)", -88.0, 30.0, 1.0896, 304.50),
    ("NAD83(2011)", -118.0, 33.0, 1.5260, 276.86),
    ("NAD83(PA11)", -157.0, 21.0, 3.9997, 293.56),
]


@pytest.mark.parametrize("row", SHIFTS, ids=lambda row: f"computed from EPSG parameters {row[:3]}")
def test_nad83_is_metres_from_wgs84(row):
    source, lon, lat, distance_m, azimuth_deg = row
    there = transform(lon, lat, source=source, target="EPSG:4326", epoch=2026.9)
    azimuth, _, distance = GRS80.inv(lon, lat, float(there.lon_deg), float(there.lat_deg))
    assert distance == pytest.approx(distance_m, abs=1e-3)
    assert azimuth % 360 == pytest.approx(azimuth_deg, abs=0.01)


GEOCENTRIC = [  # operation or pair of frames, X Y Z in, epoch, X Y Z out, tolerance mm, source
    ("EPSG:4938", "EPSG:7842", (-4052051.7643, 4212836.2017, -2545106.0245), None,
     (-4052052.7379, 4212835.9897, -2545104.5898), 0.1, "ICSM GDA2020 manual, ALIC, EPSG:8048"),
    ("EPSG:7789", "EPSG:7842", (-4052052.6588, 4212835.9938, -2545104.6946), 2018.0,
     (-4052052.7373, 4212835.9835, -2545104.5867), 0.1, "ICSM GDA2020 manual, ALIC, EPSG:8049"),
    ("EPSG:7789", "EPSG:6317", (1097053.130, -4897222.404, 3923142.590), 2010.0,
     (1097053.884, -4897223.864, None), 1.0, "NGS CORS TTCD"),
    ("EPSG:5332", "EPSG:4938", (-3789470.710, 4841770.404, -1690893.952), 2013.90,
     (-3789470.004, 4841770.686, -1690895.108), 1.0, "IOGP GN7-2 method 1056, EPSG:6276"),
]  # fmt: skip


@pytest.mark.parametrize("row", GEOCENTRIC, ids=lambda row: row[-1])
def test_geocentric_examples(row):
    source, target, xyz, epoch, expected, tolerance_mm, where = row
    operation = "urn:ogc:def:coordinateOperation:EPSG::6276" if "6276" in where else None
    t = Transformer.from_pipeline(operation) if operation else Transformer.from_crs(source, target)
    x, y, z = xyz
    out = t.transform(x, y, z) if epoch is None else t.transform(x, y, z, epoch)[:3]
    for got, wanted in zip(out, expected, strict=True):
        assert wanted is None or abs(got - wanted) * 1000 <= tolerance_mm


OUR_WAY = [  # the same rows that run between frames of the table, by the program's own chain of operations
    ("EPSG:4938", "GDA94", "GDA2020", "EPSG:7842", GEOCENTRIC[0]),
    ("EPSG:7789", "ITRF2014", "GDA2020", "EPSG:7842", GEOCENTRIC[1]),
    ("EPSG:7789", "ITRF2014", "NAD83(2011)", "EPSG:6317", (*GEOCENTRIC[2][:4], (1097053.884, -4897223.864, 3923142.590), 1.0, "NGS CORS TTCD")),
]  # fmt: skip
FLAT = {
    "EPSG:4938": "EPSG:4939",
    "EPSG:7789": "EPSG:7912",
    "EPSG:7842": "EPSG:7843",
    "EPSG:6317": "EPSG:6319",
}


@pytest.mark.parametrize("row", OUR_WAY, ids=lambda row: row[-1][-1])
def test_our_chain_reproduces_the_geocentric_examples(row):
    from_xyz, source, target, to_xyz, (_, _, xyz, epoch, expected, tolerance_mm, where) = row
    lon, lat, _ = Transformer.from_crs(from_xyz, FLAT[from_xyz], always_xy=True).transform(*xyz)
    z_known = expected if "TTCD" not in where else None
    there = transform(lon, lat, source=source, target=target, epoch=epoch)
    if z_known is None:
        assert float(there.lat_deg) == pytest.approx(
            degrees("N38 12 08.50548"), abs=1e-8
        )  # 1 mm; NGS prints it
        return
    lon_there, lat_there, _ = Transformer.from_crs(to_xyz, FLAT[to_xyz], always_xy=True).transform(*z_known)
    # The published heights are kept out of the program's horizontal chain: 0.3 mm more.
    assert apart_mm(there.lon_deg, there.lat_deg, lon_there, lat_there) <= tolerance_mm + 0.3


PIPELINES = [  # pipeline, X Y Z in, out, tolerance mm, source
    ("+proj=helmert +z=4.5 +rz=0.554 +s=0.219 +convention=position_vector",
     (3657660.66, 255768.55, 5201382.11), (3657660.78, 255778.43, 5201387.75), 10, "IOGP GN7-2 method 9606"),
    ("+proj=helmert +z=4.5 +rz=-0.554 +s=0.219 +convention=coordinate_frame",
     (3657660.66, 255768.55, 5201382.11), (3657660.78, 255778.43, 5201387.75), 10, "IOGP GN7-2 method 9607"),
]  # fmt: skip


@pytest.mark.parametrize("row", PIPELINES, ids=lambda row: row[-1])
def test_helmert_conventions(row):
    pipeline, xyz, expected, tolerance_mm, _ = row
    out = Transformer.from_pipeline(pipeline).transform(*xyz)
    assert np.max(np.abs(np.subtract(out, expected))) * 1000 <= tolerance_mm


GEODETIC = [  # ellipsoid, lat, lon, h, X Y Z, tolerance mm, source
    ("WGS84", "N53 48 33.82", "E2 07 46.38", 73.0, (3771793.968, 140253.342, 5124304.349), 1.0, "IOGP GN7-2 method 9602"),
    ("airy", "N52 39 27.2531", "E1 43 4.5177", 24.700, (3874938.849, 116218.624, 5047168.208), 1.5, "OS guide, annex B"),
    ("GRS80", "N32 14 58.59780", "W095 23 36.96782", 121.385, (-507532.145, -5375535.919, 3383937.354), 0.8, "NGS datasheet TXTY"),
]  # fmt: skip


@pytest.mark.parametrize("row", GEODETIC, ids=lambda row: row[-1])
def test_geodetic_to_geocentric(row):
    ellipsoid, lat, lon, h, expected, tolerance_mm, _ = row
    t = Transformer.from_pipeline(
        f"+proj=pipeline +step +proj=unitconvert +xy_in=deg +xy_out=rad +step +proj=cart +ellps={ellipsoid}"
    )
    out = t.transform(degrees(lon), degrees(lat), h)
    assert np.max(np.abs(np.subtract(out, expected))) * 1000 <= tolerance_mm


def test_onsala_from_itrf2000_to_itrf93():
    """PROJ's more_builtins.gie, from the GNSStrans program: ITRF2000 at 2017.0 and 2018.0."""
    t = Transformer.from_pipeline("+init=ITRF2000:ITRF93")
    for epoch, expected in (
        (2017.0, (3370658.18890, 711877.42370, 5349787.12430)),
        (2018.0, (3370658.18087, 711877.42750, 5349787.12648)),
    ):
        out = t.transform(3370658.37800, 711877.31400, 5349787.08600, epoch)[:3]
        assert np.max(np.abs(np.subtract(out, expected))) * 1000 <= 0.1


VELOCITIES = [  # rotation alone of the ITRF2020 plate motion model (doi 10.1029/2023GL106373): N, E mm a year
    (-78.0, 33.0, "NOAM", 2.92, -13.61),
    (-88.0, 30.0, "NOAM", -0.67, -12.88),
    (-118.0, 33.0, "PCFC", 25.83, -44.00),
    (-157.0, 21.0, "PCFC", 33.93, -61.91),
    (151.5, -34.0, "AUST", 53.81, 18.56),
    (-2.0, 50.0, "EURA", 16.10, 16.57),
    (-66.0, 18.0, "CARB", 12.03, 8.22),
    (-76.0, 25.0, "NOAM", 3.63, -11.28),
]
#: The model's translation rate of the origin, X Y Z, which the rows above leave out. Units: mm a year.
TRANSLATION = np.array([0.37, 0.35, 0.74])


@pytest.mark.parametrize("row", VELOCITIES, ids=lambda row: f"ITRF2020 plate motion model {row[:3]}")
def test_plate_velocities(row):
    lon, lat, plate, north, east = row
    phi, lam = np.radians([lat, lon])
    to_north = np.array([-np.sin(phi) * np.cos(lam), -np.sin(phi) * np.sin(lam), np.cos(phi)])
    to_east = np.array([-np.sin(lam), np.cos(lam), 0.0])
    expected = (north + to_north @ TRANSLATION, east + to_east @ TRANSLATION)
    assert [float(v) for v in velocity(lon, lat, plate=plate)] == pytest.approx(expected, abs=0.01)


PUBLISHED_VELOCITIES = [  # N, E mm a year; tolerance; source
    (-77.4, 38.2, "NOAM", 3.9, -14.4, 0.15, "NGS CORS TTCD, ttcd_14.coord.txt"),
]


@pytest.mark.parametrize("row", PUBLISHED_VELOCITIES, ids=lambda row: row[-1])
def test_velocity_of_a_real_station(row):
    lon, lat, plate, north, east, tolerance, _ = row
    assert [float(v) for v in velocity(lon, lat, plate=plate)] == pytest.approx((north, east), abs=tolerance)


@pytest.mark.parametrize(("lon", "lat"), [(151.5, -34.0), (115.0, -32.0), (130.0, -15.0)])
def test_australia_moves_as_its_own_agency_says(lon, lat):
    """EPSG:8049, the ICSM plate motion of GDA2020, estimated without the ITRF2020 model; 0.4 mm a year."""
    years = 10.0
    marks = [transform(lon, lat, source="GDA2020", target="ITRF2020", epoch=2020.0 + t) for t in (0.0, years)]
    (lon_0, lat_0), (lon_1, lat_1) = ((float(mark.lon_deg), float(mark.lat_deg)) for mark in marks)
    azimuth, _, distance = GRS80.inv(lon_0, lat_0, lon_1, lat_1)
    expected = [distance / years * 1e3 * f(math.radians(azimuth)) for f in (math.cos, math.sin)]
    assert [float(v) for v in velocity(lon, lat, plate="AUST")] == pytest.approx(expected, abs=0.4)


NADCON = [  # NGS station pairs NAD27 / NAD83(1986), and the four nodes of the NADCON conus grid around each
    # (NOAA, public domain): lower left corner, shifts in seconds (longitude west, latitude), south row first
    ("EA0344", "N34 34 50.18422", "W077 29 03.59149", "N34 34 50.78140", "W077 29 02.46988", (-77.5, 34.5),
     [-1.11923, 0.6005, -1.1665, 0.59436, -1.119, 0.592, -1.16052, 0.58064]),
    ("CJ0695", "N32 48 51.60300", "W079 44 59.85000", "N32 48 52.23424", "W079 44 59.14084", (-79.75, 32.75),
     [-0.70907, 0.63627, -0.75537, 0.63285, -0.71481, 0.6172, -0.763, 0.613]),
    ("AH1319", "N27 59 09.35300", "W097 17 43.27900", "N27 59 10.42152", "W097 17 44.24932", (-97.5, 27.75),
     [0.97524, 1.10251, 0.96442, 1.11225, 0.97949, 1.06008, 0.96913, 1.0674]),
]  # fmt: skip
ONE_POINT = """
import sys
from registry.errors import MissingGridError
from registry.measure.datum import transform, use_grids
lon, lat = float(sys.argv[1]), float(sys.argv[2])
try:
    transform(lon, lat, source="NAD27", target="NAD83(2011)")
except MissingGridError:
    use_grids(sys.argv[3])
    t = transform(lon, lat, source="NAD27", target="NAD83(2011)")
    print(float(t.lon_deg), float(t.lat_deg), t.accuracy_m, t.operation)
"""


@pytest.mark.parametrize("row", NADCON, ids=lambda row: f"NGS station {row[0]}, NADCON 50 mm")
def test_nad27_with_the_grid(row, tmp_path):
    """In a process of its own, because the folder of grids holds for the whole process."""
    _, lat, lon, lat_83, lon_83, (west, south), shifts = row
    corner = [math.radians(x) for x in (west, south, 0.25, 0.25)]
    header = struct.pack("<16s80s4d2i24x", b"CTABLE V2.0     ", b"four nodes of conus", *corner, 2, 2)
    nodes = struct.pack("<8f", *(math.radians(s / 3600) for s in shifts))
    (tmp_path / "conus").write_bytes(header + nodes)
    command = [sys.executable, "-c", ONE_POINT, str(degrees(lon)), str(degrees(lat)), str(tmp_path)]
    done = subprocess.run(command, capture_output=True, text=True, check=True, cwd=ROOT)
    got_lon, got_lat, accuracy_m, operation = done.stdout.split(maxsplit=3)
    assert apart_mm(got_lon, got_lat, degrees(lon_83), degrees(lat_83)) < 50
    assert operation.startswith("EPSG:1241 NAD27 to NAD83(2011)")
    assert float(accuracy_m) == pytest.approx(math.hypot(2.4, 1.0))
