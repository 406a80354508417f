"""From lines of a log to placements: position and depth derived, everything raw kept beside them."""

import math
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np

from registry.actions.charted_depth import ChartedDepth, charted_depth
from registry.actions.settle_position import Settled, Stated, settle_all
from registry.actions.warn_of_slips import (
    furthest_inside,
    slip_of_permit,
    slips_of_depth,
    warnings_at_home,
    warnings_of_position,
)
from registry.errors import LeadlineError, NotFoundError, PositionTextError, QuantityError
from registry.measure.receiver_class import receiver_class
from registry.records.log_row import LogRow
from registry.records.permit import Permit
from registry.records.placement import Placement, PlacementTable
from registry.records.programme import Programme

if TYPE_CHECKING:
    from registry.actions.derive_sounding import SoundedDepth

__all__ = ["derive_placements", "stated_of"]

#: Depths are compared within cells of this many degrees of latitude (about 500 m) and those beside them.
CELL_DEG = 0.0045


def stated_of(row: LogRow) -> Stated:
    """
    Give the position of a line with what was stated beside it.

    Raises
    ------
    PositionTextError
        If both a radius and a receiver class are stated.
    QuantityError
        If the radius is none or the receiver class is unknown.
    """
    r95_m, words, basis = None, "", ""
    if row.survey is not None:
        if row.r95 is not None or row.receiver:
            what = f"The position of {row.tag or 'it'} was derived, and a radius is stated beside it."
            raise PositionTextError(what, remedy="Leave it out: the radius follows from the derivation.")
        r95_m = row.survey.derivation.position.r95_m
        basis = f"R95 {r95_m:.3g} m by the budget of the derivation."
    if row.r95 is not None and row.receiver:
        what = f"Both R95 {row.r95.written} and receiver {row.receiver} are stated for {row.tag or 'it'}."
        raise PositionTextError(what, remedy="State one: the radius, or the class of receiver.")
    if row.r95 is not None:
        if row.r95.value <= 0:
            what = f"An R95 of {row.r95.written} is no uncertainty: nothing is known exactly."
            raise QuantityError(what, remedy="Give the 95 % radius, or the class of receiver.")
        r95_m, words = row.r95.value, row.r95.written
    elif row.receiver:
        kind = receiver_class(row.receiver)
        r95_m = kind.r95_m
        basis = f"R95 {r95_m:g} m for receiver class {kind.name}: {kind.sentence}."
    return Stated(
        written=row.position,
        frame=row.frame,
        epoch=row.epoch,
        r95_m=r95_m,
        r95_words=words,
        r95_basis=basis,
        at=row.placed_at,
    )


def derive_placements(
    rows: Sequence[LogRow],
    *,
    programme: Programme,
    permits: Mapping[str, Permit],
    permit_at: Callable[[str, datetime], Permit],
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
        Every permit of the registry by number, as it is in force today: its areas tell a slip.
    permit_at : callable
        Gives one of these permits as it was in force at an instant: below its datum are the depths.
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
    settled = settle_all(stated, programme)
    inside = _distances_inside([rows[index] for index in ready], settled, permits)
    depths = _Depths(standing)
    for index, where, inside_m in zip(ready, settled, inside, strict=True):
        if isinstance(where, LeadlineError):
            answers[index] = where
            continue
        try:
            answers[index] = _placement(
                rows[index], where, permits, depths, permit_at=permit_at, inside_m=inside_m
            )
        except LeadlineError as error:
            answers[index] = error
    return [answer for answer in answers if answer is not None]


def _known_permit(row: LogRow, permits: Mapping[str, Permit]) -> None:
    if row.permit not in permits:
        what = f"There is no permit {row.permit!r} in this registry."
        known = ", ".join(sorted(permits)) or "none yet; add one with: leadline permit add FILE.toml"
        raise NotFoundError(what, remedy=f"Permits: {known}.")


def _distances_inside(
    rows: Sequence[LogRow], settled: Sequence[Settled | LeadlineError], permits: Mapping[str, Permit]
) -> list[dict[str, float] | None]:
    """
    Give how far inside the areas of each permit every position lies, all of one permit at once.

    None for a position inside the permit that its line names: nobody asks about the others then.
    """
    found: list[dict[str, float] | None] = [{} for _ in rows]
    places = {
        index: where.home.position
        for index, where in enumerate(settled)
        if not isinstance(where, LeadlineError)
    }

    def inside(number: str, at: list[int]) -> Iterator[tuple[int, float]]:
        lon, lat = [places[index].lon_deg for index in at], [places[index].lat_deg for index in at]
        yield from zip(at, furthest_inside([permits[number]], lon, lat).tolist(), strict=True)

    for number in permits:
        for index, inside_m in inside(number, [i for i in places if rows[i].permit == number]):
            if inside_m >= 0:
                found[index] = None
    away = [index for index in places if found[index] is not None]
    for number in permits:
        for index, inside_m in inside(number, away):
            distances = found[index]
            if distances is not None:
                distances[number] = inside_m
    return found


def _placement(
    row: LogRow,
    settled: Settled,
    permits: Mapping[str, Permit],
    depths: "_Depths",
    *,
    permit_at: Callable[[str, datetime], Permit],
    inside_m: Mapping[str, float] | None,
) -> Placement:
    home = settled.home.position
    depth: ChartedDepth | None = None
    sounded: SoundedDepth | None = None
    datum = permit_at(row.permit, row.placed_at).chart_datum
    if row.sounding is not None:
        # Tides and sound speed are loaded only where a depth is derived: a check starts without them.
        from registry.actions.derive_sounding import derive_sounding

        sounded = derive_sounding(row.sounding, datum=datum, lat_deg=home.lat_deg)
        depth = sounded.charted
    elif row.depth is not None:
        depth = charted_depth(row.depth, u95=row.depth_u95, tide=row.tide, datum=datum)
    if inside_m is None:
        warnings = list(warnings_at_home(row.position))
    else:
        every = tuple(permits.values())
        warnings = [*settled.warnings]
        warnings += warnings_of_position(row.position, settled.observed, home, every, inside_m=inside_m)
        warnings += slip_of_permit(home, row.permit, every, inside_m=inside_m)
    depth_text = row.sounding.written if row.sounding else row.depth.written if row.depth else ""
    if depth is not None:
        around = depths.around(home.lon_deg, home.lat_deg)
        warnings += slips_of_depth(depth.depth_m, depth_text, around)
        depths.add(home.lon_deg, home.lat_deg, depth.depth_m)
    return Placement(
        tag=row.tag,
        permit=row.permit,
        placed_at=row.placed_at,
        position_text=row.position.text,
        observed=settled.observed,
        home=settled.home,
        basis=(
            *(row.survey.sentences if row.survey else ()),
            *settled.basis,
            *(depth.basis if depth else ("No depth was stated.",)),
        ),
        charted_depth_m=depth.depth_m if depth else None,
        depth_u95_m=depth.u95_m if depth else None,
        depth_text=depth_text,
        tide_text=sounded.tide_text if sounded else row.tide.written if row.tide else "",
        warnings=tuple(warnings),
        crew=row.crew,
        vessel=row.vessel,
        note=row.note,
        source=dict(row.source),
        survey=row.survey.evidence() if row.survey else None,
        depth=sounded.evidence() if sounded else None,
    )


class _Depths:
    """Depths that are known, by where: in cells of half a kilometre, so that few are looked at."""

    def __init__(self, standing: PlacementTable) -> None:
        self._cells: dict[tuple[int, int], list[float]] = defaultdict(list)
        known = np.isfinite(standing.depth_m)
        columns = standing.lon_deg[known], standing.lat_deg[known], standing.depth_m[known]
        for lon_deg, lat_deg, depth_m in zip(*(column.tolist() for column in columns), strict=True):
            self.add(lon_deg, lat_deg, depth_m)

    def add(self, lon_deg: float, lat_deg: float, depth_m: float) -> None:
        self._cells[self._cell(lon_deg, lat_deg)].append(depth_m)

    def around(self, lon_deg: float, lat_deg: float) -> list[float]:
        """Give the depths in the cell of a point and in those beside it."""
        found: list[float] = []
        for north in (-1, 0, 1):
            row, columns = self._row(lat_deg + north * CELL_DEG)
            column = self._column(lon_deg, columns)
            for beside in {(column + east) % columns for east in (-1, 0, 1)}:
                found += self._cells.get((row, beside), ())
        return found

    def _cell(self, lon_deg: float, lat_deg: float) -> tuple[int, int]:
        row, columns = self._row(lat_deg)
        return row, self._column(lon_deg, columns)

    @staticmethod
    def _row(lat_deg: float) -> tuple[int, int]:
        """Give the row of a latitude and how many columns go round the earth in it."""
        row = math.floor(lat_deg / CELL_DEG)
        return row, max(1, math.floor(360.0 / CELL_DEG * math.cos(math.radians(row * CELL_DEG))))

    @staticmethod
    def _column(lon_deg: float, columns: int) -> int:
        return math.floor((lon_deg + 180.0) % 360.0 / 360.0 * columns) % columns
