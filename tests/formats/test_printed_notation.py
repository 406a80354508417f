"""Every notation reads back to within its own rounding."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.errors import FrameError
from registry.formats.printed_notation import NOTATIONS, write_in_notation
from registry.formats.written_position import read_position
from registry.measure.datum import resolve
from registry.measure.geodesic import inverse


@pytest.mark.parametrize("notation", NOTATIONS)
# Beyond 65 degrees, and at zero and zero, the reader asks back where signs stand for letters: rightly.
@given(
    lon=st.floats(1.0, 179.9) | st.floats(-179.9, -1.0),
    lat=st.floats(-64.0, 64.0),
    r95_m=st.floats(0.02, 50.0),
)
def test_what_is_written_reads_back_within_a_third_of_its_doubt(notation, lon, lat, r95_m):
    text = write_in_notation(lat, lon, notation=notation, r95_m=r95_m, frame=resolve("WGS 84"))
    back = read_position(text)
    apart_m = float(inverse(lon, lat, back.lon_deg, back.lat_deg)[0])
    if notation == "mgrs":  # a corner: the square is no wider than R95, 1 m at best
        assert apart_m <= max(r95_m, 1.0) * 2**0.5 + 0.01
    else:
        assert apart_m <= 0.25 * r95_m + 1e-4


def test_no_more_digits_than_the_doubt_supports():
    wgs84 = resolve("WGS 84")
    texts = [write_in_notation(34.02, -77.33, notation="ddm", r95_m=r, frame=wgs84) for r in (0.2, 3.0, 15.0)]
    assert [len(text.split()[1].partition(".")[2]) for text in texts] == [5, 4, 3]
    squares = [
        write_in_notation(34.02, -77.33, notation="mgrs", r95_m=r, frame=wgs84) for r in (2.0, 15.0, 200.0)
    ]
    assert [len(text) - 5 for text in squares] == [10, 8, 6]


@pytest.mark.parametrize("notation", ["mgrs", "geo"])
def test_notations_of_wgs84_are_of_wgs84(notation):
    with pytest.raises(FrameError, match="WGS 84"):
        write_in_notation(34.02, -77.33, notation=notation, r95_m=3.0, frame=resolve("NAD83(2011)"))


def test_iso6709_names_its_frame():
    text = write_in_notation(34.02, -77.33, notation="iso6709", r95_m=3.0, frame=resolve("NAD83(2011)"))
    assert read_position(text).frame == "EPSG:6318"


def test_mgrs_ends_at_the_poles():
    with pytest.raises(FrameError, match="polar"):
        write_in_notation(85.0, 0.0, notation="mgrs", r95_m=3.0, frame=resolve("WGS 84"))


def test_a_hair_south_of_the_equator_is_no_other_square():
    # Found by the property above: the library gave 31MBA, a square of the far south.
    assert write_in_notation(-1e-9, 1.0, notation="mgrs", r95_m=1.0, frame=resolve("WGS 84")).startswith(
        "31NBA77404"
    )
