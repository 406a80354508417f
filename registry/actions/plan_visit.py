"""Gather what somebody needs who goes to a module on a day: the way, the water, the light, the place."""

import math
from datetime import date, datetime
from zoneinfo import ZoneInfo

from registry.actions.describe_place import describe_place
from registry.actions.locate_module import Located
from registry.actions.publish_site import WGS84
from registry.actions.settle_position import Stated, settle
from registry.actions.tide_day import tide_day
from registry.errors import QuantityError
from registry.measure.datum import decimal_year, transform
from registry.measure.daylight import daylight
from registry.measure.geodesic import inverse
from registry.measure.magnetic import magnetic_variation
from registry.measure.uncertainty import combine
from registry.ports import Register
from registry.records.permit import Permit
from registry.records.position import Position
from registry.records.tide_day import TideDay
from registry.records.tide_station import TideStation
from registry.records.visit import Course, ExpectedWater, Visit, Water
from registry.records.written_position import WrittenPosition

__all__ = ["plan_visit"]

#: Where the programme keeps exact positions from the public, the sheet of one module shows no other.
_UNPUBLISHED = "the programme does not publish exact positions"
_NO_NEIGHBOURS = "Other modules are not drawn: the programme does not publish their exact positions."


def plan_visit(
    register: Register,
    tag: str,
    *,
    day: date,
    start_name: str,
    start: WrittenPosition,
    start_frame: str | None = None,
    station: TideStation | None = None,
    for_family: bool = False,
) -> Visit:
    """
    Plan a visit.

    Parameters
    ----------
    register : Register
        Read from.
    tag : str
        Of a module with exactly one standing placement.
    day : datetime.date
        Of the visit, in the programme's zone; coordinates are WGS 84 at its noon.
    start_name : str
        What the place is called from which the boat leaves.
    start : WrittenPosition
        That place as it was written.
    start_frame : str, optional
        Its frame, where the text does not name it; else the programme's home frame.
    station : TideStation, optional
        For the water of the day.
    for_family : bool
        Whether the memorial's name is shown even without consent to be listed.

    Raises
    ------
    NotFoundError
        If there is no such tag, it was not placed, or the station does not know the permit's chart datum.
    ConflictError
        If it is recorded in several places.
    FrameError
        If the frame of the start cannot be used.
    """
    programme = register.programme()
    noon = datetime(day.year, day.month, day.day, 12, tzinfo=ZoneInfo(programme.zone))
    described = describe_place(register, tag, on=noon)
    place, located, permit = described.place, described.located, described.permit
    tide = None
    if station is not None:
        tide = tide_day(station, day, zone=programme.zone, datum=permit.chart_datum)
    memorial = register.module(tag).memorial
    listed = memorial is None or memorial.consent_listed
    return Visit(
        programme=programme.name,
        zone=programme.zone,
        day=day,
        tag=tag,
        name=memorial.name if memorial is not None and (listed or for_family) else "",
        private="for the family" if for_family and not listed else "" if place.published else _UNPUBLISHED,
        placed_on=place.placed_on,
        reef=place.reef,
        permit=permit.number,
        authority=permit.authority,
        position=located.position,
        course=_course(register, located, start_name, Stated(written=start, frame=start_frame, at=noon)),
        chart_datum=permit.chart_datum,
        charted=place.charted,
        charted_over=place.charted_over,
        tide=tide,
        expected=_expected(tide, place.charted, place.charted_over),
        daylight=daylight(located.position.lon_deg, located.position.lat_deg, day, programme.zone),
        seen=place.seen,
        plan=place.plan,
        young_reef=place.young_reef,
        rules=place.rules,
        notes=(
            *_notes(located, permit, day, tide, place.charted),
            *(() if place.published else (_NO_NEIGHBOURS,)),
        ),
        journal_head=register.head(),
    )


def _course(register: Register, located: Located, name: str, stated: Stated) -> Course:
    settled = settle(stated, register.programme())
    home = settled.home.position
    epoch = round(decimal_year(stated.at), 4)
    out = transform(home.lon_deg, home.lat_deg, source=home.frame, target=WGS84, epoch=epoch, anywhere=True)
    start = Position(
        lat_deg=float(out.lat_deg),
        lon_deg=(float(out.lon_deg) + 180.0) % 360.0 - 180.0,
        frame=located.position.frame,
        epoch=epoch,
        r95_m=float(combine(home.r95_m, out.accuracy_m)),
    )
    there = located.position
    distance_m, bearing_deg = inverse(start.lon_deg, start.lat_deg, there.lon_deg, there.lat_deg)
    u95_m = float(combine(start.r95_m, there.r95_m))
    variation, why = None, ""
    try:
        variation = magnetic_variation(start.lon_deg, start.lat_deg, epoch)
    except QuantityError as error:
        why = error.what
    return Course(
        name=name,
        start=start,
        distance_m=float(distance_m),
        distance_u95_m=u95_m,
        bearing_deg=float(bearing_deg),
        bearing_u95_deg=math.degrees(math.atan2(u95_m, float(distance_m))),
        variation_east_deg=variation.east_deg if variation else None,
        variation_u95_deg=variation.u95_deg if variation else None,
        model=variation.model if variation else "",
        no_variation=why,
        basis=settled.basis,
    )


def _expected(tide: TideDay | None, charted: Water | None, over: Water | None) -> tuple[ExpectedWater, ...]:
    """Add the tide to what is charted, at each high and low water."""
    if tide is None or charted is None or over is None:
        return ()

    def raised(water: Water, height_m: float) -> Water:
        return Water(value_m=water.value_m + height_m, u95_m=float(combine(water.u95_m, tide.u95_m)))

    return tuple(
        ExpectedWater(
            kind=turn.kind,
            at=turn.at,
            tide_m=turn.height_m,
            depth=raised(charted, turn.height_m),
            over=raised(over, turn.height_m),
        )
        for turn in tide.turns
    )


def _notes(
    located: Located, permit: Permit, day: date, tide: TideDay | None, charted: Water | None
) -> tuple[str, ...]:
    notes = list(located.notes)
    if located.place.moved is not None:
        notes.append("It has moved, and nobody measured the depth where it was found: sound it first.")
    elif charted is None:
        notes.append("Nobody measured the depth: sound it before anything is lowered.")
    elif tide is None:
        notes.append("No tide station was given: depths are at chart datum, not of the day.")
    else:
        notes.append(
            f"The tide is predicted for {tide.station}; at the reef it may come earlier or later, and be "
            "higher or lower."
        )
    if permit.standing_on(day) == "expired":
        notes.append(f"Permit {permit.number} ends on {permit.valid_to}: ask what holds after that.")
    return tuple(notes)
