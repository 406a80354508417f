"""Resolving frames and moving between them: refusals, traps and round trips."""

from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import pytest
from pyproj import Geod, Transformer

from registry.errors import FrameError, MissingGridError
from registry.measure import operations
from registry.measure.datum import decimal_year, home_frame, resolve, to_geographic, transform

GRS80 = Geod(ellps="GRS80")


def apart_m(a, b) -> float:
    return float(GRS80.inv(float(a[0]), float(a[1]), float(b[0]), float(b[1]))[2])


@pytest.mark.parametrize(("text", "base", "dynamic"), [
    ("WGS84", "EPSG:4326", True), ("wgs 84", "EPSG:4326", True), ("EPSG:4979", "EPSG:4326", True),
    ("NAD83(2011)", "EPSG:6318", False), ("nad27", "EPSG:4267", False), ("GDA2020", "EPSG:7844", False),
    ("itrf2020", "EPSG:9990", True), ("EPSG:6319", "EPSG:6318", False), ("EPSG:32617", "EPSG:4326", True),
    ("EPSG:2264", "EPSG:4269", False), ("WGS 84 / UTM zone 17N", "EPSG:4326", True), ("ETRS89", "EPSG:4258", False),
])  # fmt: skip
def test_names_and_codes(text, base, dynamic):
    found = resolve(text)
    assert (found.base, found.dynamic) == (base, dynamic)


def test_units_of_projected_axes_are_told():
    found = resolve("EPSG:2264")
    assert found.projected
    assert found.axis_unit == "US survey foot"
    assert found.axis_unit_size == pytest.approx(1200 / 3937, rel=1e-12)


@pytest.mark.parametrize("text", [
    "", "6318", "utm 17", "NAD", "+proj=longlat", "EPSG:99999", "EPSG:5498", "EPSG:4978", "EPSG:5714", "EPSG:2053",
    "ESRI:102003", "NATRF2022",
])  # fmt: skip
def test_unknown_or_unusable_frames_are_named_with_a_remedy(text):
    with pytest.raises(FrameError) as caught:
        resolve(text)
    assert text in caught.value.what or "NATRF2022" in caught.value.what
    assert caught.value.remedy


@pytest.mark.parametrize("code", ["EPSG:6318", "GDA2020", "ETRF2000", "NAD83(PA11)"])
def test_home_frames(code):
    assert home_frame(code).epoch is not None


@pytest.mark.parametrize(
    "code", ["WGS 84", "ITRF2020", "NAD83", "NAD27", "EPSG:26917", "ETRS89", "JGD2011", "EPSG:4152"]
)
def test_frames_that_cannot_be_home(code):
    with pytest.raises(FrameError) as caught:
        home_frame(code)
    assert caught.value.remedy


@pytest.mark.parametrize(("lon", "lat"), [(-78.0, 95.0), (400.0, 33.0), (np.nan, 33.0), (-78.0, np.inf)])
@pytest.mark.parametrize("target", ["WGS 84", "NAD83(2011)"])
def test_numbers_that_are_no_place(lon, lat, target):
    with pytest.raises(FrameError, match="longitude and a latitude"):
        transform(lon, lat, source="WGS 84", target=target, epoch=2026.9)


def test_the_bad_point_of_many_is_named():
    with pytest.raises(FrameError, match=r"Latitude 95, longitude -77.5 \(point 2 of 3\)"):
        transform([-78, -77.5, -77], [33, 95, 33], source="WGS 84", target="NAD83(2011)", epoch=2026.9)


def test_a_missing_epoch_is_asked_for():
    with pytest.raises(FrameError) as caught:
        transform(-78.0, 33.0, source="WGS 84", target="NAD83(2011)")
    assert "--epoch YEAR" in caught.value.remedy


@pytest.mark.parametrize("epoch", [61369.0, 1.7e9, np.inf, np.nan, 1979.99, 2100.0, 26.9])
def test_what_is_no_decimal_year_is_refused(epoch):
    with pytest.raises(FrameError, match="decimal year"):
        transform(-78.0, 33.0, source="WGS 84", target="NAD83(2011)", epoch=epoch)


def test_the_same_frame_changes_nothing():
    same = transform([-78.0], [33.0], source="EPSG:4326", target="WGS84")
    assert (same.lon_deg[0], same.lat_deg[0], same.operation, same.accuracy_m) == (
        -78.0,
        33.0,
        "none: same frame",
        0.0,
    )
    assert same.epoch is None


def test_the_operation_is_recorded():
    out = transform(-78.0, 33.0, source="NAD83(2011)", target="ITRF2020", epoch=2026.9)
    assert out.operation == "INVERSE(EPSG:10334) NAD83(2011) to ITRF2020"
    assert out.proj_version.startswith("PROJ ")
    assert "EPSG v" in out.proj_version
    assert out.epoch == 2026.9


def test_a_plate_fixed_result_is_at_its_own_epoch():
    assert transform(-78.0, 33.0, source="WGS 84", target="NAD83(2011)", epoch=2026.9).epoch == 2010.0
    assert transform(151.0, -34.0, source="WGS 84", target="GDA2020", epoch=2026.9).epoch == 2020.0


PAIRS = [
    ("NAD83(2011)", -78.0, 33.0), ("NAD83(PA11)", -157.0, 21.0), ("NAD83(MA11)", 144.7, 13.4),
    ("NAD83(CSRS)v7", -63.0, 44.5), ("NAD83(CSRS)v6", -63.0, 44.5), ("NAD83(CSRS)v8", -63.0, 44.5),
    ("GDA2020", 151.5, -34.0), ("GDA94", 151.5, -34.0), ("ETRF2000", -2.0, 50.0), ("ETRF2014", -2.0, 50.0),
    ("ETRF2020", -2.0, 50.0), ("ITRF2014", -78.0, 33.0), ("WGS 84 (G1762)", -78.0, 33.0), ("EPSG:8240", -63.0, 44.5),
]  # fmt: skip


@pytest.mark.parametrize(("frame", "lon", "lat"), PAIRS)
def test_there_and_back(frame, lon, lat):
    out = transform(lon, lat, source=frame, target="WGS 84", epoch=2026.9)
    back = transform(out.lon_deg, out.lat_deg, source="WGS 84", target=frame, epoch=2026.9)
    assert apart_m((back.lon_deg, back.lat_deg), (lon, lat)) < 1e-6


@pytest.mark.parametrize(
    ("frame", "lon", "lat"), [row for row in PAIRS if "CSRS" not in row[0] and row[0] != "EPSG:8240"]
)
def test_our_chain_agrees_with_proj_between_the_same_realisations(frame, lon, lat):
    """Where PROJ's own search finds a real operation, it is the same to 0.2 mm (or to the 1 cm of the G-series)."""
    row = resolve(frame).frame
    assert row is not None
    theirs = Transformer.from_crs(row.code_3d, "EPSG:9989", always_xy=True).transform(lon, lat, 0.0, 2026.9)
    ours = transform(lon, lat, source=frame, target="ITRF2020", epoch=2026.9)
    assert apart_m((ours.lon_deg, ours.lat_deg), theirs) < (0.01 if "WGS" in frame else 2e-4)


@pytest.mark.parametrize(
    ("lon", "lat", "wrong_by_m"), [(-78.0, 33.0, 1.070), (-88.0, 30.0, 1.090), (-118.0, 33.0, 1.526)]
)
def test_the_hop_through_nad83_is_never_taken(lon, lat, wrong_by_m):
    """PROJ sends ITRF2020 to EPSG:4979 through NAD83(2011) in the United States; the program must not."""
    hopped = Transformer.from_crs("EPSG:9989", "EPSG:4979", always_xy=True).transform(lon, lat, 0.0, 2026.9)
    assert apart_m(hopped, (lon, lat)) == pytest.approx(wrong_by_m, abs=2e-3)
    ours = transform(lon, lat, source="ITRF2020", target="EPSG:4979", epoch=2026.9)
    assert apart_m((ours.lon_deg, ours.lat_deg), (lon, lat)) == 0.0


@pytest.mark.parametrize("code", ["EPSG:4326", "EPSG:4979", "EPSG:32617"])
def test_the_null_operation_to_wgs84_is_never_taken(code):
    null = Transformer.from_crs("EPSG:6318", "EPSG:4326", always_xy=True).transform(-80.5, 33.0)
    assert apart_m(null, (-80.5, 33.0)) < 1e-6
    ours = transform(-80.5, 33.0, source="NAD83(2011)", target=code, epoch=2026.9)
    assert apart_m((ours.lon_deg, ours.lat_deg), (-80.5, 33.0)) > 1.0


def test_no_row_of_the_table_asks_proj_to_search(monkeypatch):
    def searched(*_, **__):
        raise AssertionError("a search was made")

    monkeypatch.setattr(operations, "TransformerGroup", searched)
    for frame, lon, lat in PAIRS[:-1]:
        transform(lon, lat, source=frame, target="WGS 84", epoch=2020.5)


def test_gda94_to_gda2020_needs_no_epoch():
    out = transform(151.0, -34.0, source="GDA94", target="GDA2020")
    back = transform(out.lon_deg, out.lat_deg, source="GDA2020", target="GDA94")
    assert out.operation == "EPSG:8048 GDA94 to GDA2020"
    assert back.operation.startswith("INVERSE(EPSG:8048)")
    assert apart_m((back.lon_deg, back.lat_deg), (151.0, -34.0)) < 1e-6
    assert 1.4 < apart_m((out.lon_deg, out.lat_deg), (151.0, -34.0)) < 1.9


def test_bare_nad83_carries_a_metre():
    out = transform(-78.0, 33.0, source="NAD83", target="NAD83(2011)")
    assert (float(out.lon_deg), float(out.lat_deg), out.accuracy_m) == (-78.0, 33.0, 1.0)
    assert out.operation == "none: NAD83 taken as NAD83(2011)"


def test_restless_ground_adds_doubt_with_the_years():
    quiet = transform(-78.0, 33.0, source="WGS 84", target="NAD83(2011)", epoch=2026.9).accuracy_m
    restless = transform(-118.0, 33.0, source="WGS 84", target="NAD83(2011)", epoch=2026.9).accuracy_m
    assert quiet < 0.05
    assert restless == pytest.approx(0.05 * 16.9, abs=0.01)


@pytest.mark.parametrize("source", ["NAD83", "NAD83(2011)"])
def test_hawaii_is_not_nad83_2011(source):
    with pytest.raises(FrameError) as caught:
        transform(-157.0, 21.0, source=source, target="WGS 84", epoch=2026.9)
    assert "EPSG:6322" in caught.value.remedy


def test_a_frame_far_from_its_plate_is_refused():
    with pytest.raises(FrameError, match=r"^33\.0000 N 78\.0000 E lies outside the region"):
        transform(78.0, 33.0, source="WGS 84", target="NAD83(2011)", epoch=2026.9)


def test_a_point_far_from_its_plate_is_carried_where_that_is_asked_for():
    """The sign of the longitude was lost: the place must still reach the record, and be told apart there."""
    lon = [-77.33, 77.33, -157.0]
    out = transform(
        lon, [34.02, 34.02, 21.0], source="WGS 84", target="NAD83(2011)", epoch=2026.9, anywhere=True
    )
    assert out.outside.tolist() == [False, True, True]
    assert np.all(np.abs(out.lon_deg - lon) < 1e-4)
    alone = transform(-77.33, 34.02, source="WGS 84", target="NAD83(2011)", epoch=2026.9)
    assert out.lon_deg[0] == alone.lon_deg
    assert not alone.outside.any()


def test_a_point_outside_is_told_also_where_nothing_is_carried():
    assert transform(178.0, -18.0, source="EPSG:6318", target="EPSG:6318").outside.all()


def test_without_an_operation_nothing_is_carried_anywhere():
    with pytest.raises(FrameError):
        transform(140.0, 35.0, source="NAD27", target="WGS 84", epoch=2026.9, anywhere=True)


@pytest.mark.parametrize("year", [1950, 2100])
def test_a_day_of_no_satellite_is_named(year):
    with pytest.raises(FrameError, match=f"{year}-06-14 .* 1980 to 2099") as caught:
        decimal_year(datetime(year, 6, 14, tzinfo=UTC))
    assert "epoch" not in caught.value.remedy


@pytest.mark.parametrize(("source", "lon", "lat", "file"), [
    ("NAD27", -78.0, 33.0, "us_noaa_nadcon5_nad27_nad83_1986_conus.tif or conus"),
    ("NAD27", -150.0, 60.0, "us_noaa_nadcon5_nad27_nad83_1986_alaska.tif or alaska"),
    ("Old Hawaiian", -157.0, 21.0, "us_noaa_nadcon5_ohd_nad83_1986_hawaii.tif or hawaii"),
    ("Puerto Rico", -66.0, 18.0, "us_noaa_nadcon5_pr40_nad83_1986_prvi.tif or prvi"),
    ("EPSG:32040", -95.0, 28.5, "us_noaa_nadcon5_nad27_nad83_1986_conus.tif"),
    ("EPSG:4152", -78.0, 33.0, "us_noaa_nadcon5_nad83_2007_nad83_2011_conus.tif"),
])  # fmt: skip
def test_a_missing_grid_is_named(source, lon, lat, file):
    with pytest.raises(MissingGridError) as caught:
        transform(lon, lat, source=source, target="WGS 84", epoch=2026.9)
    assert file in caught.value.what
    assert "--grids DIR" in caught.value.remedy


@pytest.mark.parametrize(("source", "lon", "lat"), [
    ("ETRS89", -2.0, 50.0), ("JGD2011", 140.0, 35.0), ("JGD2000", 140.0, 35.0), ("SIRGAS 2000", -40.0, -20.0),
    ("NZGD2000", 175.0, -41.0), ("OSGB36", -2.0, 52.0), ("Tokyo", 140.0, 35.0), ("EPSG:4322", -78.0, 33.0),
    ("EPSG:4289", 4.0, 52.0), ("EPSG:27700", -2.0, 52.0),
])  # fmt: skip
def test_frames_without_a_trustworthy_operation_are_refused(source, lon, lat):
    with pytest.raises(FrameError) as caught:
        transform(lon, lat, source=source, target="WGS 84", epoch=2026.9)
    assert caught.value.remedy
    assert not isinstance(caught.value, MissingGridError)


def test_a_frame_outside_the_table_is_used_only_with_a_real_operation():
    out = transform(-63.0, 44.5, source="EPSG:8240", target="ITRF2020", epoch=2026.9)
    assert out.operation == "INVERSE(EPSG:8260) + EPSG:9995 NAD83(CSRS)v3 to ITRF2020"
    assert 1.0 < apart_m((out.lon_deg, out.lat_deg), (-63.0, 44.5)) < 2.0


def test_many_points_are_the_points_one_by_one():
    lon, lat, epoch = (
        np.array([[-78.0, -88.0], [-90.0, -75.0]]),
        np.full((2, 2), 31.0),
        np.array([2020.0, 2026.9]),
    )
    many = transform(lon, lat, source="WGS 84", target="NAD83(2011)", epoch=epoch)
    assert many.lon_deg.shape == (2, 2)
    one = transform(-75.0, 31.0, source="WGS 84", target="NAD83(2011)", epoch=2026.9)
    assert many.lon_deg[1, 1] == one.lon_deg
    assert transform([], [], source="WGS 84", target="NAD83(2011)", epoch=2026.9).lon_deg.shape == (0,)


def test_a_ring_that_runs_on_past_180_still_does():
    out = transform([179.99, 180.01], 52.0, source="WGS 84", target="NAD83(2011)", epoch=2026.9)
    assert np.all(np.abs(out.lon_deg - [179.99, 180.01]) < 1e-3)


@pytest.mark.parametrize(("x", "y", "code"), [
    (2_240_000.0, 200_000.0, "EPSG:32119"),   # feet typed for the metres of North Carolina
    (33.0, -78.0, "EPSG:32617"), (np.nan, 0.0, "EPSG:32617"), (1e9, 1e9, "EPSG:32617"),
])  # fmt: skip
def test_eastings_that_cannot_be(x, y, code):
    with pytest.raises(FrameError):
        to_geographic(x, y, code)


def test_geographic_frames_have_no_easting():
    with pytest.raises(FrameError, match="no easting"):
        to_geographic(1.0, 2.0, "EPSG:6318")


def test_decimal_years():
    assert decimal_year(datetime(2026, 11, 25, 12, tzinfo=UTC)) == pytest.approx(2026.9, abs=1e-9)
    assert decimal_year(datetime(2024, 1, 1, tzinfo=UTC)) == 2024.0
    east = timezone(timedelta(hours=5))
    assert decimal_year(datetime(2024, 1, 1, 5, tzinfo=east)) == 2024.0
    with pytest.raises(FrameError, match="no zone"):
        decimal_year(datetime(2024, 1, 1))  # noqa: DTZ001
