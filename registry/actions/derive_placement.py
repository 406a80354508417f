"""From lines of a log to placements: position and depth derived, everything raw kept beside them."""

from collections.abc import Mapping, Sequence

import numpy as np

from registry.actions.charted_depth import ChartedDepth, charted_depth
from registry.actions.settle_position import Settled, Stated, settle_all
from registry.actions.warn_of_slips import slip_of_permit, slips_of_depth, warnings_of_position
from registry.errors import LeadlineError, NotFoundError, PositionTextError
from registry.measure.receiver_class import receiver_class
from registry.records.log_row import LogRow
from registry.records.permit import Permit
from registry.records.placement import Placement, PlacementTable
from registry.records.programme import Programme

__all__ = ["derive_placements", "stated_of"]

#: Depths are compared with those of modules this near, in degrees of latitude: about 500 m.
AROUND_DEG = 0.0045


def stated_of(row: LogRow) -> Stated:
    """
    Give the position of a line with what was stated beside it.

    Raises
    ------
    PositionTextError
        If both a radius and a receiver class are stated.
    QuantityError
        If the receiver class is unknown.
    """
    r95_m, words = None, ""
    if row.r95 is not None and row.receiver:
        what = f"Both R95 {row.r95.written} and receiver {row.receiver} are stated for {row.tag or 'it'}."
        raise PositionTextError(what, remedy="State one: the radius, or the class of receiver.")
    if row.r95 is not None:
        r95_m, words = row.r95.value, row.r95.written
    elif row.receiver:
        kind = receiver_class(row.receiver)
        r95_m, words = kind.r95_m, f"receiver class {kind.name}: {kind.sentence}"
    return Stated(
        written=row.position, frame=row.frame, epoch=row.epoch, r95_m=r95_m, r95_words=words, at=row.placed_at
    )


def derive_placements(
    rows: Sequence[LogRow],
    *,
    programme: Programme,
    permits: Mapping[str, Permit],
    standing: PlacementTable,
) -> list[Placement | LeadlineError]:
    """
    Derive the placements of many lines; one that cannot be derived gives its error instead.

    Parameters
    ----------
    rows : sequence of LogRow
        The lines.
    programme : Programme
        Gives the home frame.
    permits : mapping of str to Permit
        Every permit of the registry by number.
    standing : PlacementTable
        What stands, to compare depths with.
    """
    answers: list[Placement | LeadlineError | None] = [None] * len(rows)
    stated: list[Stated] = []
    ready: list[int] = []
    for index, row in enumerate(rows):
        try:
            _known_permit(row, permits)
            stated.append(stated_of(row))
            ready.append(index)
        except LeadlineError as error:
            answers[index] = error
    for index, settled in zip(ready, settle_all(stated, programme), strict=True):
        if isinstance(settled, LeadlineError):
            answers[index] = settled
            continue
        try:
            answers[index] = _placement(rows[index], settled, permits, standing)
        except LeadlineError as error:
            answers[index] = error
    return [answer for answer in answers if answer is not None]


def _known_permit(row: LogRow, permits: Mapping[str, Permit]) -> None:
    if row.permit not in permits:
        what = f"There is no permit {row.permit!r} in this registry."
        known = ", ".join(sorted(permits)) or "none yet; add one with: leadline permit add FILE.toml"
        raise NotFoundError(what, remedy=f"Permits: {known}.")


def _placement(
    row: LogRow, settled: Settled, permits: Mapping[str, Permit], standing: PlacementTable
) -> Placement:
    home = settled.home.position
    depth: ChartedDepth | None = None
    if row.depth is not None:
        datum = permits[row.permit].chart_datum
        depth = charted_depth(row.depth, u95=row.depth_u95, tide=row.tide, datum=datum)
    warnings = list(warnings_of_position(row.position, settled.observed, home, tuple(permits.values())))
    warnings += slip_of_permit(home, row.permit, tuple(permits.values()))
    if depth is not None and row.depth is not None:
        warnings += slips_of_depth(
            depth.depth_m, row.depth.written, _around(standing, home.lon_deg, home.lat_deg)
        )
    return Placement(
        tag=row.tag,
        permit=row.permit,
        placed_at=row.placed_at,
        position_text=row.position.text,
        observed=settled.observed,
        home=settled.home,
        basis=(*settled.basis, *(depth.basis if depth else ("No depth was stated.",))),
        charted_depth_m=depth.depth_m if depth else None,
        depth_u95_m=depth.u95_m if depth else None,
        depth_text=row.depth.written if row.depth else "",
        tide_text=row.tide.written if row.tide else "",
        warnings=tuple(warnings),
        crew=row.crew,
        vessel=row.vessel,
        note=row.note,
        source=dict(row.source),
    )


def _around(standing: PlacementTable, lon_deg: float, lat_deg: float) -> PlacementTable:
    """Give what stands within about half a kilometre: a window is enough to compare depths."""
    reach_lon = AROUND_DEG / max(float(np.cos(np.radians(lat_deg))), 0.01)
    east = np.abs((standing.lon_deg - lon_deg + 180.0) % 360.0 - 180.0)
    return standing.rows((np.abs(standing.lat_deg - lat_deg) <= AROUND_DEG) & (east <= reach_lon))
