"""A draft holds what the registry knows, marks what it does not, and never says that anything was allowed."""

from datetime import UTC, date, datetime
from typing import Any

import pytest
from pyproj import Geod
from shapely.geometry import LineString, Polygon

from registry.actions.declare_burial_reports import declare_burial_reports
from registry.actions.draft_duty import draft_duty
from registry.actions.plan_work import plan_work
from registry.errors import InvalidRecordError, NotFoundError
from registry.formats.reported_position import write_reported
from registry.formats.written_position import read_position
from registry.records.duty_draft import DraftField, DutyDraft
from registry.records.duty_entry import AuthorityBasis
from registry.records.module import Memorial
from registry.records.permit import Permit, Reporting
from tests.builders import (
    ACTOR,
    a_baseline,
    a_condition,
    a_module,
    a_permit,
    a_placement,
    a_programme,
    a_quantity,
    baseline_added,
    module_added,
    permit_added,
    permit_amended,
    placement_logged,
    type_added,
)
from tests.fakes import FixedClock, MemoryRegister

ASKS: dict[str, Any] = {
    "notice_days_before": 14,
    "notice_cite": "General condition 3",
    "report_days_after": 30,
    "report_cite": "Special condition 9",
}
FEET = Reporting(notation="dms", length_unit="ft", mass_unit="short tons", **ASKS)
EVENING = datetime(2026, 6, 15, 2, 30, tzinfo=UTC)
ASBUILT = "asbuilt-HB-0417-2026-06-14"


def a_register(permit: Permit | None = None, *more: Any, **placed: Any) -> MemoryRegister:
    """Give a registry with one module placed that remembers Ada Quill, on the evening of 14 June."""
    clock = FixedClock(datetime(2026, 12, 1, 17, tzinfo=UTC))
    register = MemoryRegister(a_programme(), actor=ACTOR, clock=clock)
    register.append(
        [
            permit_added(permit or a_permit(reporting=FEET)),
            type_added(),
            module_added(a_module(memorial=Memorial(name="Ada Quill"))),
            module_added(a_module(tag="MR-0002")),
            placement_logged(a_placement(placed_at=EVENING, **placed)),
            *more,
        ]
    )
    basis = [AuthorityBasis(kind="state permit", document="X-1")]
    declare_burial_reports(
        register, permit=None, applies="yes", days=30, cite="40 CFR 229.1(d)", bases=basis, actor=ACTOR
    )
    return register


def drafted(register: MemoryRegister, duty_id: str) -> DutyDraft:
    return draft_duty(register, duty_id, read_position=read_position, write_position=write_reported)


def fields(draft: DutyDraft) -> dict[str, DraftField]:
    return {field.label: field for section in draft.sections for field in section.fields}


def words(draft: DutyDraft) -> str:
    """Give every word of a draft."""
    said = [field.label + field.shown + field.note for field in fields(draft).values()]
    said += [cell for table in draft.tables for row in (table.columns, *table.rows) for cell in row]
    return " ".join([draft.title, *said, *draft.bases, *draft.decides, *draft.cautions])


# --- burial-at-sea report

#: The report form of EPA Region 1, as read in November 2026; the current online form asks for the position
#: in decimal degrees of WGS 84 and for the last place of departure.
FORM = {
    "Name of deceased": "Ada Quill",
    "Date of birth": "",
    "Date of death": "",
    "Date of burial": "2026-06-14",
    "Type of remains": "",
    "Date of cremation": "",
    # NAD83(2011) to WGS 84 (G2296) on that day, computed here; the operation itself is tested in published/.
    "Latitude": "34.000008 N",
    "Longitude": "77.000007 W",
    "Distance from shore": "",
    "Depth of water": "66.8 ± 1.4 ft (95 %)",
    "Did the remains sink rapidly": "",
    "Vessel": "Sanderling",
    "Vessel's point of contact": "",
    "Port of departure": "",
    "Person responsible for the arrangements": "",
    "Family member or responsible party": "",
    "Burial or cremation permits": "",
}


def test_a_burial_report_has_every_field_of_the_form_and_blanks_where_nothing_is_held():
    found = fields(drafted(a_register(), "burial-MR-0001"))
    assert {label: found[label].value for label in FORM} == FORM
    assert all(field.shown == "to be filled in by the programme" for field in found.values() if field.missing)
    assert "WGS 84" in found["Latitude"].note
    assert found["Depth of water"].note == "of the seabed, below MLLW"
    assert "22:30 EDT" in found["Date of burial"].note


def test_a_burial_report_never_says_that_anything_was_allowed():
    draft = drafted(a_register(), "burial-MR-0001")
    said = words(draft).casefold()
    assert "authorised under" not in said
    assert "authorized under" not in said
    assert draft.bases == ("state permit: X-1",)
    assert "artificial reefs among them" in said
    assert "special permit" in said
    assert "claims no authority" in said
    assert draft.addressee == ""


def test_a_burial_report_is_a_private_paper_and_the_other_papers_name_nobody():
    register = a_register()
    assert drafted(register, "burial-MR-0001").private
    asbuilt = drafted(register, ASBUILT)
    assert not asbuilt.private
    assert "Quill" not in words(asbuilt)


def test_the_distance_from_shore_is_blank_with_its_reason_where_no_baseline_is_recorded():
    found = fields(drafted(a_register(), "burial-MR-0001"))["Distance from shore"]
    assert found.missing
    assert "no baseline is recorded" in found.note


def test_the_distance_from_shore_is_the_geodesic_to_the_recorded_baseline():
    register = a_register(None, baseline_added())
    found = fields(drafted(register, "burial-MR-0001"))["Distance from shore"]
    # The shore is the meridian of 77.6 W; the foot lies a little north, and no point of it is nearer.
    shore = [(-77.6, 34.0 + k * 1e-5) for k in range(-400, 400)]
    slow_m = min(Geod(ellps="GRS80").inv(-77.0, 34.0, lon, lat)[2] for lon, lat in shore)
    assert found.value == f"{slow_m / 1852:.2f} nmi ({slow_m / 1000:.2f} km)"
    assert "farther than the 3 nautical miles of the form (40 CFR 229.1(a)(3)" in found.note
    assert found.note.endswith("for information")


@pytest.mark.parametrize(
    ("offshore_m", "said"),
    [(5558.0, "farther than"), (5556.5, "not to be told from"), (5554.0, "nearer than")],
)
def test_three_nautical_miles_are_told_with_their_doubt(offshore_m, said):
    lon, _, _ = Geod(ellps="GRS80").fwd(-77.0, 34.0, 270.0, offshore_m)
    line = a_baseline(shape=LineString([(lon, 33.9), (lon, 34.1)]))
    found = fields(drafted(a_register(None, baseline_added(line)), "burial-MR-0001"))["Distance from shore"]
    assert f"; {said} the 3 nautical miles" in found.note


def test_a_position_on_the_lands_side_has_no_distance_from_shore():
    land = a_baseline(shape=Polygon([(-78, 33), (-76, 33), (-76, 35), (-78, 35)]))
    found = fields(drafted(a_register(None, baseline_added(land)), "burial-MR-0001"))["Distance from shore"]
    assert found.missing
    assert "land's side" in found.note


@pytest.mark.parametrize(
    ("lat", "where"),
    [(34.0, "in permit area gannet-patch"), (34.011, "110.9 ± 1.5 m outside permit area gannet-patch")],
)
def test_the_location_is_the_true_one_also_where_it_should_not_be(lat, where):
    found = fields(drafted(a_register(lat_deg=lat), "burial-MR-0001"))["Location"]
    assert found.value == where


def test_a_depth_that_nobody_measured_is_a_blank():
    register = a_register(charted_depth_m=None, depth_u95_m=None)
    assert fields(drafted(register, "burial-MR-0001"))["Depth of water"].missing
    assert fields(drafted(register, ASBUILT))["Least clearance over a module"].missing


def test_a_module_recorded_in_two_places_is_cautioned_about():
    register = a_register(None, placement_logged(a_placement(placed_at=datetime(2026, 7, 1, tzinfo=UTC))))
    draft = drafted(register, "burial-MR-0001")
    assert any("recorded in 2 places" in caution for caution in draft.cautions)


# --- as-built report


def test_an_as_built_report_comes_in_the_units_and_notation_asked_for():
    draft = drafted(a_register(), ASBUILT)
    (table,) = draft.tables
    row = dict(zip(table.columns, table.rows[0], strict=True))
    assert row == {
        "tag": "MR-0001",
        "type": "dome-120",
        "area": "gannet-patch",
        "latitude": "34 00 00.00 N",
        "longitude": "077 00 00.00 W",
        "within (ft, 95 %)": "5.0",
        "depth (ft below MLLW)": "66.8",
        "± depth (ft, 95 %)": "1.4",
        "relief (ft)": "3.937",
        "clearance (ft below MLLW)": "62.9",
        "± clearance (ft, 95 %)": "1.4",
        "mass (short tons)": "1.543",
    }
    assert "NAD83(2011) (EPSG:6318, epoch 2010), degrees, minutes and seconds" in table.note
    assert draft.addressee == "Harbour Bay Coastal Office"


def test_an_as_built_report_reports_the_day_alone_and_holds_the_whole_against_the_permit():
    capacity = a_condition(
        rule="capacity",
        cite="Special condition 6",
        limits={"greatest_count": a_quantity(120, "count"), "greatest_mass": a_quantity(2800.0, "mass")},
    )
    later = placement_logged(a_placement(tag="MR-0002", placed_at=datetime(2026, 7, 1, 16, tzinfo=UTC)))
    register = a_register(a_permit(reporting=FEET, conditions=(capacity,)), later)
    draft = drafted(register, ASBUILT)
    found = fields(draft)
    assert [row[0] for row in draft.tables[0].rows] == ["MR-0001"]
    assert found["Modules placed that day"].value == "1"
    assert found["All modules under the permit"].value == "2"
    assert found["All modules under the permit"].note == "of 120 authorised [Special condition 6]"
    assert found["All mass under the permit"].value == "3.086 short tons"
    assert "(3.086 short tons) authorised" in found["All mass under the permit"].note


def test_an_as_built_report_on_a_grid_gives_northing_and_easting_of_the_frame_asked_for():
    grid = Reporting(frame="EPSG:6347", **ASKS)
    (table,) = drafted(a_register(a_permit(reporting=grid)), ASBUILT).tables
    row = dict(zip(table.columns, table.rows[0], strict=True))
    # Easting and northing of 34 N 77 W in zone 18 by an independent series (Krüger, six terms), below.
    easting_m, northing_m = transverse_mercator(34.0, -77.0, -75.0)
    assert float(row["easting (metre)"]) == pytest.approx(easting_m, abs=0.06)
    assert float(row["northing (metre)"]) == pytest.approx(northing_m, abs=0.06)


def transverse_mercator(lat_deg: float, lon_deg: float, meridian_deg: float) -> tuple[float, float]:
    """Project on GRS 80 by the series of Krüger (1912) in n up to the third power, as UTM is defined."""
    import math

    a, f = 6378137.0, 1 / 298.257222101
    n = f / (2 - f)
    rectifying_m = a / (1 + n) * (1 + n**2 / 4 + n**4 / 64)
    alpha = (
        n / 2 - 2 * n**2 / 3 + 5 * n**3 / 16,
        13 * n**2 / 48 - 3 * n**3 / 5,
        61 * n**3 / 240,
    )
    phi, lam = math.radians(lat_deg), math.radians(lon_deg - meridian_deg)
    e = 2 * math.sqrt(n) / (1 + n)
    t = math.sinh(math.atanh(math.sin(phi)) - e * math.atanh(e * math.sin(phi)))
    xi, eta = math.atan2(t, math.cos(lam)), math.atanh(math.sin(lam) / math.hypot(1, t))
    east = eta + sum(c * math.cos(2 * k * xi) * math.sinh(2 * k * eta) for k, c in enumerate(alpha, start=1))
    north = xi + sum(c * math.sin(2 * k * xi) * math.cosh(2 * k * eta) for k, c in enumerate(alpha, start=1))
    return 500000 + 0.9996 * rectifying_m * east, 0.9996 * rectifying_m * north


def test_after_an_amendment_the_form_is_that_of_today_and_the_datum_that_of_the_day():
    metres = a_permit(
        reporting=Reporting(notation="dd", **ASKS),
        chart_datum="LAT",
        in_force_from=date(2026, 7, 1),
        amendment="Metric, and lowest astronomical tide",
    )
    draft = drafted(a_register(None, permit_amended(metres)), ASBUILT)
    (table,) = draft.tables
    row = dict(zip(table.columns, table.rows[0], strict=True))
    assert (row["latitude"], row["depth (m below MLLW)"]) == ("34.000000 N", "20.36")
    assert fields(draft)["Least clearance over a module"].note == "below MLLW, over MR-0001"
    assert any("amended after that day" in caution for caution in draft.cautions)


def test_what_the_registry_warns_of_is_repeated_before_it_is_reported():
    register = a_register(warnings=("The depth disagrees with those around it.",))
    assert "MR-0001: The depth disagrees with those around it." in drafted(register, ASBUILT).cautions


# --- notice


def test_a_notice_names_days_and_corners_and_leaves_the_rest_to_a_person():
    register = a_register()
    plan_work(register, permit="HB-0417", begins_on=date(2027, 3, 1), ends_on=date(2027, 3, 5), actor=ACTOR)
    draft = drafted(register, "notice-HB-0417-2027-03-01")
    found = fields(draft)
    assert (found["First day"].value, found["Last day"].value) == ("2027-03-01", "2027-03-05")
    assert found["Asked by"].value == "General condition 3"
    assert found["Asked by"].note == "due on 2027-02-15, days of America/New_York"
    (table,) = draft.tables
    assert table.title == "Area gannet-patch"
    assert len(table.rows) == 4
    assert all(row[2].endswith(" N") and row[3].endswith(" W") for row in table.rows)


@pytest.mark.parametrize(
    ("duty_id", "error", "said"),
    [
        ("expiry-HB-0417-2034-04-30", InvalidRecordError, "reminder"),
        ("notice-HB-0417-next", InvalidRecordError, "duties plan"),
        ("asbuilt-HB-0417-2026-06-15", NotFoundError, "Did you mean"),
    ],
)
def test_what_has_no_paper_is_refused_with_the_remedy(duty_id, error, said):
    with pytest.raises(error, match=said):
        drafted(a_register(), duty_id)
