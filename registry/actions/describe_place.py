"""Describe where a module lies: how sure that is, how deep, on which reef, and who saw it since."""

import math
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from shapely import MultiPolygon, Polygon

from registry.actions.choose_publication import declared_publication
from registry.actions.locate_module import Located, locate_module
from registry.actions.publish_site import WGS84, nearest_area, to_wgs84
from registry.actions.standing_place import resurveys_by_tag
from registry.actions.tell_visitors import words_for
from registry.measure.boundary import signed_distance
from registry.measure.datum import transform
from registry.measure.edges import densify
from registry.measure.uncertainty import combine
from registry.ports import Register
from registry.records.certificate import place_words
from registry.records.permit import Area, Permit
from registry.records.placement import Placement, PlacementTable
from registry.records.resting_place import RestingPlace
from registry.records.visit import ReefPlan, Seen, Water

__all__ = ["Described", "describe_place"]

#: Modules drawn on the plan. Units: m.
PLAN_REACH_M = 5_000.0
EDGE_STEP_M = 2_000.0
#: So many of the latest observations are told.
MOST_SEEN = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Described:
    """The place, and the records behind it."""

    place: RestingPlace
    located: Located
    #: In the version of the day of placement.
    permit: Permit


def describe_place(register: Register, tag: str, *, on: datetime) -> Described:
    """
    Describe where a module lies.

    Parameters
    ----------
    register : Register
        Read from.
    tag : str
        Of a module with exactly one standing placement.
    on : datetime.datetime
        The instant for which the coordinate holds; surveys up to half a day later are told.

    Raises
    ------
    NotFoundError
        If there is no such tag, or it was not placed.
    ConflictError
        If it is recorded in several places.
    """
    programme = register.programme()
    located = locate_module(register, tag, on=on)
    placement = register.placement(located.place.placement_id)
    zone = ZoneInfo(programme.zone)
    placed_on = placement.placed_at.astimezone(zone).date()
    permit = register.permit(placement.permit, on=placed_on)
    table = register.placements_near(
        lon_deg=located.place.home.position.lon_deg,
        lat_deg=located.place.home.position.lat_deg,
        reach_m=PLAN_REACH_M,
    )
    if located.place.placement_id not in table.placement_id:
        # It was found far from where it was placed.
        whole = register.placements()
        table = table.joined(whole.rows(whole.placement_id == located.place.placement_id))
    own = table.rows(table.placement_id == located.place.placement_id)
    area = next(each for each in permit.areas if each.area_id == nearest_area(own, [permit])[0])
    charted, over = _charted(placement, own) if located.place.moved is None else (None, None)
    words = words_for(register, permit.number)
    publication = declared_publication(register)
    published = not publication.sites_only and publication.rounded_m is None
    place = RestingPlace(
        programme=programme.name,
        tag=tag,
        placed_on=placed_on,
        reef=_reef(area, located),
        permit=permit.number,
        authority=permit.authority,
        position=located.position,
        observed_on=located.place.observed_at.astimezone(zone).date(),
        moved=located.place.moved is not None,
        chart_datum=permit.chart_datum,
        charted=charted,
        charted_over=over,
        seen=_seen(register, tag, until=on + timedelta(hours=12), zone=programme.zone),
        plan=_plan(area, table if published else own, located, programme.frame),
        published=published,
        young_reef=words.young_reef if words else "",
        rules=words.rules if words else "",
        notes=located.notes,
    )
    return Described(place=place, located=located, permit=permit)


def _charted(placement: Placement, own: PlacementTable) -> tuple[Water | None, Water | None]:
    """Give the charted depths of the seabed and of the module's top."""
    if placement.charted_depth_m is None or placement.depth_u95_m is None:
        return None, None
    seabed = Water(value_m=placement.charted_depth_m, u95_m=placement.depth_u95_m)
    height_m, u95_m = float(own.height_m[0]), float(own.height_u95_m[0])
    if not math.isfinite(height_m):
        return seabed, None
    over = Water(value_m=seabed.value_m - height_m, u95_m=float(combine(seabed.u95_m, u95_m)))
    return seabed, over


def _seen(register: Register, tag: str, *, until: datetime, zone: str) -> tuple[Seen, ...]:
    """Give the latest resurveys before the end of the day, newest first."""
    rows = [row for _, row in resurveys_by_tag(register, tag).get(tag, []) if row.observed_at <= until]
    return tuple(
        Seen(
            on=row.observed_at.astimezone(ZoneInfo(zone)).date(),
            motion=row.movement.verdict,
            distance_m=row.movement.distance_m,
            bearing_deg=row.movement.bearing_deg,
            u95_m=row.movement.u95_m,
            note=row.note,
        )
        for row in reversed(rows[-MOST_SEEN:])
    )


def _reef(area: Area, located: Located) -> str:
    home = located.place.home.position
    found = signed_distance([home.lon_deg], [home.lat_deg], area.shape, area.edges)
    inside_m = float(found.distance_m[0])
    return place_words(area.area_id, max(0.0, -inside_m))


def _plan(area: Area, table: PlacementTable, located: Located, frame: str) -> ReefPlan:
    epoch = located.position.epoch
    assert epoch is not None
    outline = to_wgs84(densify(area.shape, area.edges, EDGE_STEP_M), frame, epoch)
    parts = outline.geoms if isinstance(outline, MultiPolygon) else [outline]
    rings = [ring for part in parts if isinstance(part, Polygon) for ring in (part.exterior, *part.interiors)]
    others = table.rows(table.placement_id != located.place.placement_id)
    out = transform(others.lon_deg, others.lat_deg, source=frame, target=WGS84, epoch=epoch, anywhere=True)
    return ReefPlan(
        rings=tuple(tuple((float(lon), float(lat)) for lon, lat, *_ in ring.coords) for ring in rings),
        others=tuple(
            (str(tag), float(lon), float(lat))
            for tag, lon, lat in zip(others.tag, out.lon_deg, out.lat_deg, strict=True)
        ),
    )
