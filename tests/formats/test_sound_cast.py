"""Casts: speeds as measured, or by a named equation."""

import pytest

from registry.errors import InvalidRecordError, LeadlineError, TableError
from registry.formats.sound_cast import read_sound_cast
from registry.measure.sound_speed import sound_speed

MEASURED = "Depth (m),Sound speed (m/s)\n0.5,1540.2\n10,1535\n20,1520\n"
CTD = "Depth (m);Temperature (°C);Salinity (PSU)\n0,5;26,4;36,1\n20;22,0;36,3\n"


def test_measured_speeds_are_taken_as_they_are():
    cast = read_sound_cast(MEASURED, source="c").cast
    assert (cast.depths_m, cast.speeds_mps) == ((0.5, 10.0, 20.0), (1540.2, 1535.0, 1520.0))
    assert cast.equation == "measured"


@pytest.mark.parametrize("equation", ["Chen-Millero", "Mackenzie", "Medwin", "Del Grosso"])
def test_temperature_and_salinity_become_speed_by_the_equation_named(equation):
    cast = read_sound_cast(CTD, source="c", equation=equation, lat_deg=34.0).cast
    wanted = sound_speed(equation, temperature_c=22.0, salinity=36.3, depth_m=20.0, lat_deg=34.0)
    assert cast.speeds_mps[1] == pytest.approx(wanted)
    assert cast.equation == equation


def test_feet_and_fahrenheit():
    text = "depth_ft,temp_f,sal\n65.6168,71.6,36.3\n"
    cast = read_sound_cast(text, source="c").cast
    assert cast.depths_m[0] == pytest.approx(20.0, abs=1e-5)
    assert cast.speeds_mps[0] == pytest.approx(
        sound_speed("Chen-Millero", temperature_c=22.0, salinity=36.3, depth_m=20.0), abs=1e-3
    )


def test_bad_levels_are_kept_apart():
    table = read_sound_cast(MEASURED + "25,4987\n26,n/a\n27\n", source="c")
    assert len(table.cast.depths_m) == 3
    assert [row.number for row, _ in table.rejected] == [5, 6, 7]
    assert "4987 m/s is no speed" in table.rejected[0][1]


def test_a_way_up_is_refused():
    with pytest.raises(InvalidRecordError, match="way up"):
        read_sound_cast(MEASURED + "10,1535\n", source="c")


@pytest.mark.parametrize(
    "header",
    [
        "Depth (m),Temperature (°C)",
        "Depth (m),Sound speed",
        "Depth (m),Temperature,Salinity",
        "Level,Sound speed (m/s)",
        "Depth (m),Depth (ft),Sound speed (m/s)",
    ],
)
def test_a_missing_column_or_unit_is_asked_about(header):
    cells = ",".join("1" for _ in header.split(","))
    with pytest.raises(TableError):
        read_sound_cast(f"{header}\n{cells}\n", source="c")


@pytest.mark.parametrize("content", ["", "\x00", b"\xff\xfe\xfa", "Depth (m),Sound speed (m/s)\n"])
def test_no_content_makes_it_fall_over(content):
    with pytest.raises(LeadlineError):
        read_sound_cast(content, source="c")
