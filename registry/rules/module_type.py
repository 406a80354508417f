"""Is the module of a type that the permit authorises?"""

import numpy as np

from registry.measure.decision import Verdict
from registry.records.finding import Findings, Phrases
from registry.rules.cases import Asked, Cases, Rule

__all__ = ["MODULE_TYPE"]


def check(cases: Cases, asked: Asked) -> Findings:
    """Judge the module's type against the list of the permit."""
    allowed = tuple(word.strip() for word in (asked.text("types") or "").split(","))
    types = cases.placements.module_type
    listed = np.fromiter(map(frozenset(allowed).__contains__, types.tolist()), bool, len(types))
    verdict = np.where(listed, Verdict.CONFORMING, Verdict.NONCONFORMING)
    verdict = np.where(types == "", Verdict.INCONCLUSIVE, verdict).astype(np.int8)
    nothing = np.full(len(cases), np.nan)

    def message(row: int) -> str:
        said = f"It is of type {types[row]}" if types[row] else "Its type is not known"
        return f"{said}; {', '.join(allowed)} may be placed."

    return Findings(
        rule=asked.rule,
        cite=asked.cite,
        unit="",
        verdict=verdict,
        measured=nothing,
        limit=nothing,
        u95=nothing,
        message=Phrases(len(cases), message),
    )


MODULE_TYPE = Rule(
    rule_id="module-type",
    sentence="The module is of a type that the permit authorises.",
    source="Permit condition: design and types of material.",
    parameters={"types": "text"},
    needs_one_of=("types",),
    check=check,
)
