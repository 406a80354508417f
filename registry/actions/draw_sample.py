"""Draw the modules that an officer looks at again: spread over the permit, the doubtful ones more often."""

from collections import Counter
from datetime import datetime

import numpy as np

from registry.actions.audit_registry import audit_registry
from registry.actions.gather_cases import local_days
from registry.actions.last_known import last_known
from registry.actions.publish_site import WGS84, nearest_area
from registry.errors import NotFoundError, RequestError
from registry.measure.balanced_sample import balanced_sample, inclusion_probabilities, voronoi_balance
from registry.measure.boat_order import boat_order
from registry.measure.datum import decimal_year, transform
from registry.measure.decision import Verdict
from registry.measure.doubt_weight import doubt_weight
from registry.measure.seeded_draws import SeededDraws
from registry.ports import Register
from registry.records.inspection_sample import InspectionSample, SampledModule

__all__ = ["LEAST_FOR_ACCURACY", "draw_sample"]

#: An assessment of accuracy asks for so many (FGDC-STD-007.3-1998, read second-hand).
LEAST_FOR_ACCURACY = 20
#: More than a boat visits, and more than a course can be sought for.
MOST_FOR_A_COURSE = 500


def draw_sample(
    register: Register, permit: str, *, size: int, seed: str, now: datetime, as_of: datetime | None = None
) -> InspectionSample:
    """
    Draw a sample of the standing placements under a permit.

    Parameters
    ----------
    register : Register
        Read from; nothing is written. The same state and the same seed give the same sample anywhere.
    permit : str
        Its number.
    size : int
        How many. All, where there are no more.
    seed : str
        Whatever was agreed on or thrown with dice; everything random follows from it.
    now : datetime
        Gives the day of the sample and the epoch of its coordinates.
    as_of : datetime, optional
        The instant as of which the register shows the registry, if not now.

    Raises
    ------
    NotFoundError
        If there is no such permit, or nothing lies under it.
    RequestError
        If the size is no number of modules.
    QuantityError
        If the seed is none.

    Notes
    -----
    The chance of each is proportional to :func:`registry.measure.doubt_weight.doubt_weight`. The verdict is
    told beside it and changes no chance: it has its own list, in the audit.
    """
    seed = SeededDraws(seed).seed
    if size < 1:
        raise RequestError(f"A sample of {size} is none.", remedy="Give --size 1 or more.")
    with register.reading():
        stated = register.permit(permit)
        placed = register.placements(permit=permit)
        if not len(placed):
            what = f"No module lies under permit {permit}."
            raise NotFoundError(what, remedy="Draw the sample once placements are recorded.")
        table, moved = last_known(register, placed)
        verdicts = _verdicts(register, permit)
        head = register.head()
        programme = register.programme()
    # By identifier, so that nothing but what is recorded decides the order.
    order = np.argsort(table.placement_id.astype(str), kind="stable")
    table, moved = table.rows(order), moved[order]
    weight = doubt_weight(table.r95_m, table.depth_m, table.depth_u95_m)
    chance = inclusion_probabilities(weight, min(size, len(table)))
    drawn = balanced_sample(table.lon_deg, table.lat_deg, chance, seed=seed)
    course, course_m = list(range(len(drawn))), None
    if len(drawn) <= MOST_FOR_A_COURSE:
        course, course_m = boat_order(table.lon_deg[drawn], table.lat_deg[drawn])
    rows = drawn[course]
    epoch = round(decimal_year(now), 2)
    out = transform(
        table.lon_deg[rows],
        table.lat_deg[rows],
        source=programme.frame,
        target=WGS84,
        epoch=epoch,
        anywhere=True,
    )
    r95_m = np.hypot(table.r95_m[rows], out.accuracy_m)
    days = local_days(table.placed_at_s[rows], programme.zone).astype(object)
    areas = nearest_area(table.rows(rows), (stated,))
    modules = tuple(
        SampledModule(
            tag=str(table.tag[row]),
            placement_id=str(table.placement_id[row]),
            lat_deg=float(out.lat_deg[place]),
            lon_deg=(float(out.lon_deg[place]) + 180.0) % 360.0 - 180.0,
            r95_m=float(r95_m[place]),
            moved=bool(moved[row]),
            depth_m=_known(table.depth_m[row]),
            depth_u95_m=_known(table.depth_u95_m[row]),
            area_id=areas[place],
            verdict=verdicts.get(str(table.placement_id[row]), Verdict.NOT_APPLICABLE),
            placed_on=days[place],
            weight=float(weight[row]),
            chance=float(chance[row]),
        )
        for place, row in enumerate(rows.tolist())
    )
    return InspectionSample(
        programme=programme.name,
        permit=permit,
        seed=seed,
        size=size,
        population=len(table),
        journal_head=head,
        as_of=as_of or now,
        drawn_at=now,
        epoch=epoch,
        chart_datum=stated.chart_datum,
        modules=modules,
        balance=voronoi_balance(table.lon_deg, table.lat_deg, chance, drawn),
        course_m=course_m,
        notes=_notes(modules, size, table.tag, int((chance >= 1.0).sum())),
    )


def _verdicts(register: Register, permit: str) -> dict[str, Verdict]:
    """Ask the audit what it says of each placement: the worst, where it says several things."""
    found: dict[str, Verdict] = {}
    for audit in audit_registry(register, permit=permit).permits:
        for identifier, verdict in zip(
            audit.placements.placement_id.tolist(), audit.verdict.tolist(), strict=True
        ):
            found[identifier] = max(Verdict(verdict), found.get(identifier, Verdict.NOT_APPLICABLE))
    return found


def _known(value: float) -> float | None:
    return None if np.isnan(value) else float(value)


def _notes(
    modules: tuple[SampledModule, ...], size: int, tags: "np.ndarray", certain: int
) -> tuple[str, ...]:
    notes = []
    if size > len(tags):
        notes.append(
            f"{size} were asked for, but only {len(tags)} modules lie there: all of them are listed."
        )
    elif certain:
        notes.append(f"{certain} so doubtful that they are in every sample of this size.")
    if len(modules) < LEAST_FOR_ACCURACY:
        notes.append(f"For an assessment of accuracy at least {LEAST_FOR_ACCURACY} are asked for (NSSDA).")
    times = Counter(tags.tolist())
    twice = sorted({module.tag for module in modules if times[module.tag] > 1})
    if twice:
        notes.append(
            f"Recorded in several places: {', '.join(twice)}. Look at each; leadline accuracy takes them "
            "only once the registry was set right."
        )
    moved = [module.tag for module in modules if module.moved]
    if moved:
        notes.append(f"Found moved by a resurvey, listed where they were found: {', '.join(moved)}.")
    return tuple(notes)
