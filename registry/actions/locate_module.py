"""The coordinate of a module on a day, in the frame that somebody's receiver is set to."""

from dataclasses import dataclass
from datetime import datetime

from registry.actions.publish_site import WGS84
from registry.actions.standing_place import StandingPlace, standing_place
from registry.errors import FrameError
from registry.measure.datum import ResolvedFrame, decimal_year, resolve, transform
from registry.measure.frames import plate_of, restless_zone_of
from registry.measure.geodesic import inverse
from registry.measure.plate_motion import PLATES
from registry.measure.uncertainty import combine
from registry.ports import Register
from registry.records.position import Position

__all__ = ["Located", "locate_module"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Located:
    """Where to look for a module on a day."""

    place: StandingPlace
    on: datetime
    frame: ResolvedFrame
    #: What to type in. Its radius holds the fix, the operation and the years between.
    position: Position
    operation: str
    accuracy_m: float
    software: str
    #: From the coordinate of the day of observation, in the same frame: what the ground has moved since.
    drift_m: float
    drift_bearing_deg: float
    #: What a person should know, one sentence each.
    notes: tuple[str, ...]


def locate_module(register: Register, tag: str, *, on: datetime, frame: str = "WGS 84") -> Located:
    """
    Give the coordinate of a module on a day.

    Parameters
    ----------
    register : Register
        Read from.
    tag : str
        Of a module with exactly one standing placement.
    on : datetime.datetime
        Any instant of that day.
    frame : str
        What the receiver is set to; WGS 84 is taken as ITRF2020, which is what receivers show.

    Raises
    ------
    NotFoundError
        If there is no such tag, or it was not placed.
    ConflictError
        If it is recorded in several places.
    FrameError
        If the frame cannot be used, or is a grid.

    Notes
    -----
    The home frame rides on its plate, so the kept coordinate does not age; the operation to the frame of the
    receiver is run at the day asked for.
    """
    place = standing_place(register, tag)
    home = place.home.position
    found = resolve(frame)
    if found.projected:
        what = f"{found.name} is a grid."
        raise FrameError(what, remedy=f"Ask in {found.base}, and convert with: leadline convert --to CODE.")
    target = WGS84 if found.code == "EPSG:4326" else found.code
    epoch = round(decimal_year(on), 4)
    out = transform(home.lon_deg, home.lat_deg, source=home.frame, target=target, epoch=epoch, anywhere=True)
    observed = decimal_year(place.observed_at)
    then = transform(
        home.lon_deg, home.lat_deg, source=home.frame, target=target, epoch=observed, anywhere=True
    )
    drift_m, bearing_deg = inverse(then.lon_deg, then.lat_deg, out.lon_deg, out.lat_deg)
    shift_m = place.moved.movement.shift_m if place.moved else 0.0
    return Located(
        place=place,
        on=on,
        frame=found,
        position=Position(
            lat_deg=float(out.lat_deg),
            lon_deg=(float(out.lon_deg) + 180.0) % 360.0 - 180.0,
            frame=found.code,
            epoch=epoch if found.dynamic else found.epoch,
            r95_m=float(combine(home.r95_m, out.accuracy_m)),
        ),
        operation=out.operation,
        accuracy_m=out.accuracy_m,
        software=out.proj_version,
        drift_m=float(drift_m),
        drift_bearing_deg=float(bearing_deg),
        notes=_notes(place, on, shift_m),
    )


def _notes(place: StandingPlace, on: datetime, shift_m: float) -> tuple[str, ...]:
    home = place.home.position
    notes = []
    if place.moved is not None:
        day = place.observed_at.date().isoformat()
        notes.append(f"It was found moved on {day}; the coordinate is that of this resurvey.")
        if shift_m:
            notes.append(
                f"That survey showed every module {shift_m:.1f} m off alike; the radius holds this as well."
            )
    if on < place.observed_at:
        notes.append("The day lies before the observation: the module may not have been there yet.")
    row = resolve(home.frame).frame
    zone = restless_zone_of(row, home.lon_deg, home.lat_deg) if row else None
    if zone is not None:
        notes.append(f"In {zone.name} the ground leaves its plate; the radius grows by that.")
    plate = plate_of(row, home.lon_deg, home.lat_deg) if row else None
    if plate is not None:
        notes.append(f"The sea floor here rides on the {PLATES[plate]}.")
    return tuple(notes)
