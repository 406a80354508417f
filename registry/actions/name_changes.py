"""Name what a certificate says otherwise than the version before it."""

from collections.abc import Iterator

from registry.measure.digits import Notation
from registry.measure.geodesic import inverse
from registry.measure.uncertainty import combine
from registry.records.certificate import Certificate
from registry.records.certificate_change import Change, ChangeKind

__all__ = ["name_changes"]

#: Members of the statement behind each.
_STATED = {
    ChangeKind.RADIUS: ("r95_m",),
    ChangeKind.DEPTH: ("depth_m", "depth_u95_m", "datum"),
    ChangeKind.DAY: ("placed",),
    ChangeKind.REEF: ("reef", "outside_m"),
    ChangeKind.PERMIT: ("permit",),
}


def name_changes(
    before: Certificate, after: Certificate, *, was_withdrawn: bool = False
) -> tuple[Change, ...]:
    """
    Name what is otherwise; never nothing.

    Parameters
    ----------
    before, after : Certificate
        Two versions of one certificate.
    was_withdrawn : bool
        Whether the one before was withdrawn.

    Notes
    -----
    Positions are compared in the programme's plate-fixed frame, in which a module at rest has the same
    coordinates for good.
    """
    found = [Change(what=ChangeKind.WITHDRAWN)] if was_withdrawn else []
    found += _changes(before, after)
    return tuple(found or [Change(what=ChangeKind.RECORD)])


def _changes(before: Certificate, after: Certificate) -> Iterator[Change]:
    if after.memorial_name != before.memorial_name:
        yield Change(what=ChangeKind.NAME)
    there, here = ((each.home_lon_deg, each.home_lat_deg, each.home_frame_name) for each in (before, after))
    if there != here:
        distance_m, bearing_deg = inverse(*there[:2], *here[:2])
        moved = after.found_on is not None and after.found_on != before.found_on
        yield Change(
            what=ChangeKind.MOVED if moved else ChangeKind.POSITION,
            distance_m=float(distance_m),
            bearing_deg=float(bearing_deg) % 360.0,
            u95_m=float(combine(before.r95_m, after.r95_m)),
        )
    then, now = before.statement(), after.statement()
    for what, names in _STATED.items():
        if any(then.get(name) != now.get(name) for name in names):
            yield Change(what=what)
    if after.module_type != before.module_type:
        yield Change(what=ChangeKind.MODULE_TYPE)
    # In the digits of the later paper: that a radius cuts off other digits is no other place.
    digits = after.decimals(Notation.DEGREES)
    shown = [(round(each.lat_deg, digits), round(each.lon_deg, digits)) for each in (before, after)]
    if there == here and shown[0] != shown[1]:
        yield Change(what=ChangeKind.EPOCH)
