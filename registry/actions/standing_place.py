"""Where a module is known to lie now: its placement, or the last resurvey that found it moved."""

from dataclasses import dataclass, replace
from datetime import datetime

from registry.errors import ConflictError, NotFoundError
from registry.measure.geodesic import inverse
from registry.measure.movement import Motion, circular_covariance, motion_of, stillness_p
from registry.measure.uncertainty import combine
from registry.ports import Register
from registry.records.position import HomePosition
from registry.records.resurvey import Resurvey, resurvey_from_body

__all__ = ["StandingPlace", "resurveys_by_tag", "standing_place"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingPlace:
    """The observation that says best where a module lies."""

    tag: str
    placement_id: str
    #: The frame in which that observation was stated.
    stated_frame: str
    #: Entry of the observation, and when it was made.
    reference: str
    observed_at: datetime
    #: Its radius holds what a whole survey was off by.
    home: HomePosition
    #: When the module was last seen there.
    last_seen_at: datetime
    #: The resurvey that found it moved, None where it lies as it was placed.
    moved: Resurvey | None


def resurveys_by_tag(register: Register, tag: str | None = None) -> dict[str, list[tuple[str, Resurvey]]]:
    """Give the resurveys that stand, by tag, in order of observation, each behind its reference."""
    found: dict[str, list[tuple[str, Resurvey]]] = {}
    for body in register.resurveys(tag):
        found.setdefault(body["tag"], []).append((str(body["reference"]), resurvey_from_body(body)))
    for rows in found.values():
        rows.sort(key=lambda row: row[1].observed_at)
    return found


def standing_place(
    register: Register,
    tag: str,
    resurveys: dict[str, list[tuple[str, Resurvey]]] | None = None,
    *,
    before: datetime | None = None,
) -> StandingPlace:
    """
    Find where a module lies now, or lay at an instant.

    Parameters
    ----------
    register : Register
        Read from.
    tag : str
        Of a module with exactly one standing placement.
    resurveys : dict, optional
        As from :func:`resurveys_by_tag`, where many tags are asked.
    before : datetime, optional
        Resurveys from then on are left aside.

    Raises
    ------
    NotFoundError
        If there is no such tag, or it was not placed.
    ConflictError
        If it is recorded in several places.

    Notes
    -----
    What a resurvey said of movement stands as it was judged then, among all modules of its survey. Where the
    placement was corrected since, the resurvey is judged anew against the corrected one.
    """
    identifiers = register.placement_ids(tag)
    if not identifiers:
        register.module(tag)
        what = f"Module {tag} was not placed yet."
        raise NotFoundError(what, remedy="Log its placement first, with: leadline place.")
    if len(identifiers) > 1:
        what = f"Module {tag} is recorded in {len(identifiers)} places ({', '.join(identifiers)})."
        raise ConflictError(
            what, remedy="Find out which is true and set the other right: leadline correct, or withdraw."
        )
    placement = register.placement(identifiers[0])
    known = resurveys if resurveys is not None else resurveys_by_tag(register, tag)
    rows = [row for row in known.get(tag, []) if before is None or row[1].observed_at < before]
    judged = [(*row, _motion(row[1], identifiers[0], placement.home)) for row in rows]
    moved = next((row for row in reversed(judged) if row[2] == Motion.MOVED), None)
    reference, at, home = identifiers[0], placement.placed_at, placement.home
    if moved is not None:
        reference, at, home = moved[0], moved[1].observed_at, _with_shift(moved[1])
    seen = [
        row.observed_at for _, row, motion in judged if row.observed_at >= at and motion == Motion.NOT_SHOWN
    ]
    return StandingPlace(
        tag=tag,
        placement_id=identifiers[0],
        stated_frame=placement.observed.frame if moved is None else moved[1].observed.frame,
        reference=reference,
        observed_at=at,
        home=home,
        last_seen_at=max(seen, default=at),
        moved=moved[1] if moved else None,
    )


def _motion(resurvey: Resurvey, placement_id: str, home: HomePosition) -> Motion:
    """Give what a resurvey said of movement, judged anew if its placement was corrected since."""
    if resurvey.placement_id == placement_id:
        return resurvey.movement.verdict
    there, here = home.position, _with_shift(resurvey).position
    distance_m, _ = inverse(there.lon_deg, there.lat_deg, here.lon_deg, here.lat_deg)
    covariance = circular_covariance(combine(there.r95_m, here.r95_m))
    p = float(stillness_p(float(distance_m), 0.0, covariance))
    return motion_of(p, p)


def _with_shift(resurvey: Resurvey) -> HomePosition:
    """Give where a resurvey saw a module; what its whole survey was off by is doubt of the position."""
    home = resurvey.home
    r95_m = float(combine(home.position.r95_m, resurvey.movement.shift_m))
    return replace(home, position=replace(home.position, r95_m=r95_m))
