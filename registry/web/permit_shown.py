"""What a permit says, as its pages show it: areas with their plans, conditions in words, what is reported."""

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from registry.documents.permit_plan import AreaPlan, draw_area
from registry.errors import RequestError
from registry.records.baseline import Baseline
from registry.records.permit import Area, KeepOut, Permit
from registry.records.permit_changes import condition_words
from registry.records.target import Target
from registry.rules.catalogue import conditions_of, rule_of
from registry.web.drawn_files import DrawnFiles
from registry.web.officer_paths import segment

__all__ = ["PermitSaid", "path_of", "said_by", "toml_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PermitSaid:
    """One version of a permit, in words and drawings."""

    permit: Permit
    #: Each area with its plan, which is markup of our own.
    areas: tuple[tuple[Area, AreaPlan, Markup], ...]
    #: Rule, what it asks, the limits and their source.
    conditions: tuple[tuple[str, str, str], ...]


def said_by(
    permit: Permit, keep_outs: Sequence[KeepOut], targets: Sequence[Target], baselines: Sequence[Baseline]
) -> PermitSaid:
    """Give what a permit says."""
    plans = [
        draw_area(area, keep_outs, targets, baselines, name=f"area-{place}")
        for place, area in enumerate(permit.areas)
    ]
    return PermitSaid(
        permit=permit,
        areas=tuple((area, plan, Markup(plan.svg)) for area, plan in zip(permit.areas, plans, strict=True)),
        conditions=tuple(
            (condition.rule, rule_of(condition.rule).sentence, condition_words(condition))
            for condition in conditions_of(permit)
        ),
    )


def path_of(number: str) -> str:
    """Give the page of a permit, whatever its number holds."""
    return f"/office/permits/{segment(number)}"


def toml_of(files: DrawnFiles) -> str:
    """Give the name of the one file that states a permit."""
    found = [name for name in files.names if name.lower().endswith(".toml")]
    if len(found) != 1:
        what = "One file states the permit: its name ends in .toml."
        raise RequestError(what, remedy="Choose it in the first field, and files of areas in the second.")
    return found[0]
