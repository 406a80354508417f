"""What hypothesis draws: tables of placements around one place, and conditions to judge them by."""

from typing import Any

import numpy as np
from hypothesis import strategies as st

from registry.records.permit import Condition
from registry.records.placement import PlacementTable
from tests.builders import LAT_DEG, LON_DEG, NOON
from tests.rules.one_case import SEA, a_table, asked, at, count_of, kilograms, ratio, share

#: Lengths in steps of a millimetre, so that no example hangs on the last bit.
metres = st.integers(0, 40_000).map(lambda millimetres: millimetres / 1000.0)
doubts = st.sampled_from([0.0, 0.05, 0.2, 1.0, 1.5, 3.0, 8.0, 15.0, 120.0])
offsets = st.tuples(st.integers(-600, 600), st.integers(-600, 600)).map(lambda p: (p[0] / 10.0, p[1] / 10.0))
#: Places where arithmetic in degrees goes wrong, and the one of the tests.
places = st.sampled_from([(LON_DEG, LAT_DEG), (180.0, 12.0), (-179.9999, -65.0), (15.0, 88.0)])
depths = st.one_of(st.just(float("nan")), st.integers(10, 4000).map(lambda decimetres: decimetres / 100.0))


@st.composite
def tables(
    draw: st.DrawFn, /, *, least: int = 1, most: int = 8, place: tuple[float, float] = (LON_DEG, LAT_DEG)
) -> PlacementTable:
    """Draw a table of placements within some 85 m of a place, of two permits, with clashing tags and doubts."""
    count = draw(st.integers(least, most))

    def column(values: st.SearchStrategy[Any]) -> list[Any]:
        return draw(st.lists(values, min_size=count, max_size=count))

    where = at(*column(offsets), lon_deg=place[0], lat_deg=place[1])
    where["lon_deg"] = np.remainder(where["lon_deg"] + 180.0, 360.0) - 180.0
    columns: dict[str, Any] = {
        **where,
        "tag": column(st.sampled_from(["A", "B", "C", "D", "E", "F", "G", "H"])),
        "permit": column(st.sampled_from(["HB-0417", "HB-0417", "TN-0033"])),
        "module_type": column(st.sampled_from(["dome-120", "cube-90", ""])),
        "memorial": column(st.sampled_from(["", "", "Zoë Quill", "Ib Tarn"])),
        "r95_m": column(doubts),
        "depth_m": column(depths),
        "depth_u95_m": column(doubts),
        "height_m": column(st.sampled_from([0.6, 1.2, 2.5])),
        "height_u95_m": column(doubts),
        "base_radius_m": column(st.sampled_from([0.3, 0.75, 2.0])),
        "mass_kg": column(st.sampled_from([600.0, 1400.0, float("nan")])),
        "placed_at_s": column(st.integers(-500_000, 500_000).map(lambda s: NOON.timestamp() + 600.0 * s)),
    }
    return a_table(count, **columns)


@st.composite
def conditions(draw: st.DrawFn, /) -> Condition:
    """Draw a condition of any rule."""
    a, b = draw(metres), draw(metres)
    least, greatest = min(a, b), max(a, b)
    choices = [
        asked("inside-area", setback=least),
        asked("keep-out", setback=least),
        asked("spacing", least=least),
        asked("spacing", greatest=greatest),
        asked("spacing", least=least, greatest=greatest, basis="centre"),
        asked("depth-band", least=least, greatest=greatest),
        asked("clearance", least=least),
        asked("offshore-distance", least=least),
        asked("offshore-distance", least=least, greatest=greatest),
        asked("target-offset", greatest=greatest),
        asked("stability", least_sliding_factor=ratio(1.5), **SEA),
        asked("stability", least_overturning_factor=ratio(2.0), types="dome-120", **SEA),
        asked("relief", greatest=least / 10.0),
        asked("relief", greatest=2.0, greatest_share=share(0.5)),
        asked("capacity", greatest_count=count_of(3)),
        asked("capacity", greatest_mass=kilograms(4000.0)),
        asked("validity"),
        asked("season", open="05-15 to 06-02", closed="25 May to 30 May"),
        asked("module-type", types="dome-120"),
        asked("duplicate"),
        asked("position-quality", greatest=least),
        asked("position-quality", order=draw(st.sampled_from(["Special", "1a", "2"]))),
    ]
    return draw(st.sampled_from(choices))
