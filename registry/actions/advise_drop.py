"""Advise before a drop, from a line as it would be logged: settle the place, derive the depth, check both."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from registry.actions.charted_depth import ChartedDepth, charted_depth
from registry.actions.check_placement import Advice, check_placement
from registry.actions.derive_placement import stated_of
from registry.actions.settle_position import Settled, settle
from registry.ports import Register
from registry.records.log_row import LogRow

if TYPE_CHECKING:
    from registry.actions.derive_sounding import SoundedDepth

__all__ = ["DropAdvice", "advise_drop"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DropAdvice:
    """What is known before a drop, and what it was made of."""

    settled: Settled
    #: None where no depth was stated.
    charted: ChartedDepth | None
    #: None where the depth was stated without its instrument.
    sounded: "SoundedDepth | None"
    advice: Advice
    #: How position and depth were read, one sentence each.
    basis: tuple[str, ...]


def advise_drop(register: Register, row: LogRow, *, type_id: str, tag: str = "") -> DropAdvice:
    """
    Tell what each condition would say of a drop here and now; nothing is written.

    Parameters
    ----------
    register : Register
        With the permit, and all that lies around.
    row : LogRow
        Place, depth and permit as they would be logged; the instant is that of the check.
    type_id : str
        Type of the module.
    tag : str
        Which module it is to be: its target is the one of this tag. Without it the plan says nothing.

    Raises
    ------
    NotFoundError
        If the permit or the type is not in the registry.
    LeadlineError
        If the position or the depth cannot be settled.
    """
    settled = settle(stated_of(row), register.programme())
    charted: ChartedDepth | None = None
    sounded: SoundedDepth | None = None
    datum = register.permit(row.permit).chart_datum
    if row.sounding is not None:
        # Tides and sound speed are loaded only where a depth is derived: a check starts without them.
        from registry.actions.derive_sounding import derive_sounding

        sounded = derive_sounding(row.sounding, datum=datum, lat_deg=settled.home.position.lat_deg)
        charted = sounded.charted
    elif row.depth is not None:
        charted = charted_depth(row.depth, u95=row.depth_u95, tide=row.tide, datum=datum)
    advice = check_placement(
        register,
        permit_number=row.permit,
        type_id=type_id,
        written=row.position,
        settled=settled,
        depth=charted,
        depth_text=row.sounding.written if row.sounding else row.depth.written if row.depth else "",
        at=row.placed_at,
        tag=tag,
    )
    basis = (
        *(row.survey.sentences if row.survey else ()),
        *settled.basis,
        *(charted.basis if charted else ()),
    )
    return DropAdvice(settled=settled, charted=charted, sounded=sounded, advice=advice, basis=basis)
