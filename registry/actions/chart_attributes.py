"""The attributes of a fish haven for a chart office: what the registry gives, and why it gives nothing."""

import math
from dataclasses import dataclass
from datetime import date

from registry.records.as_built import ChartAttribute, LeastClearance
from registry.records.chart_codes import (
    ALWAYS_UNDER_WATER,
    ARTIFICIAL_REEF,
    CONCRETED,
    FISH_HAVEN,
    MANDATORY,
    QUALITY,
    TECHNIQUES,
    VERTICAL_DATUMS,
)

__all__ = ["Charted", "chart_attributes"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Charted:
    """What is known of an area when it comes to charting it."""

    area_id: str
    count: int
    clearance: LeastClearance | None
    #: How many modules have no clearance.
    unmeasured: int
    #: Shoalest seabed under any module; NaN where none was measured. Units: m.
    least_depth_m: float
    #: Height of the tallest module; NaN where any is unknown. Units: m.
    greatest_height_m: float
    chart_datum: str
    #: Instrument that read the depth at the module of the least clearance; empty where not recorded.
    instrument: str
    last_placed: date | None
    #: What the corners are good for when it comes to digits and datum; NaN where there are none. Units: m.
    corners_within_m: float = math.nan


def chart_attributes(area: Charted) -> tuple[ChartAttribute, ...]:
    """
    Give the attributes of the obstruction that a chart office may make of an area.

    Parameters
    ----------
    area : Charted
        What is known.

    Returns
    -------
    tuple of ChartAttribute
        Those of OBSTRN in S-57 and of Obstruction in S-101, side by side. A value is empty where nothing that
        is recorded gives it; the reason stands beside it.

    Notes
    -----
    Depths are rounded to the decimetre toward the shoaler side, heights and doubts upward.
    """
    found = {
        ("OBJL", "feature"): ("OBSTRN / Obstruction", "obstruction; object class 86 of S-57"),
        ("CATOBS", "categoryOfObstruction"): _category(),
        ("OBJNAM", "featureName"): (area.area_id, "name of the permit area"),
        ("WATLEV", "waterLevelEffect"): _water_level(area),
        ("VALSOU", "valueOfSounding"): _sounding(area),
        ("SOUACC", "verticalUncertainty"): _doubt(area),
        ("QUASOU", "qualityOfVerticalMeasurement"): _quality(area),
        ("TECSOU", "techniqueOfVerticalMeasurement"): _technique(area),
        ("VERDAT", "verticalDatum"): _datum(area),
        ("VERLEN", "verticalLength"): _height(area),
        ("", "surroundingDepth"): _surrounding(area),
        ("", "defaultClearanceDepth"): ("", "for the chart office, where no value of sounding is given"),
        ("NATCON", "natureOfConstruction"): (str(CONCRETED), "concreted: modules of concrete"),
        ("NATSUR", "natureOfSurface"): ("", "the nature of the seabed is not recorded"),
        ("SORDAT", "reportedDate"): _reported(area),
        ("POSACC", "horizontalPositionUncertainty"): _outline(area),
        ("QUAPOS", "qualityOfHorizontalMeasurement"): (
            "",
            "the outline is that of the permit and was not surveyed; for the chart office",
        ),
    }
    return tuple(
        ChartAttribute(s57=s57, s101=s101, value=value, meaning=meaning, mandatory=s101 in MANDATORY)
        for (s57, s101), (value, meaning) in found.items()
    )


def _category() -> tuple[str, str]:
    return str(FISH_HAVEN), f"fish haven; S-101 also has {ARTIFICIAL_REEF}, artificial reef"


def _unknown(area: Charted) -> str:
    if not area.count:
        return "no module lies in the area"
    return f"the depth or height of {area.unmeasured} of the {area.count} in the area is not recorded"


def _down(value_m: float) -> str:
    """Round toward the shoaler side; a value on the decimetre, but for the floating point, stays."""
    return f"{math.floor(value_m * 10 + 1e-6) / 10 + 0.0:.1f}"


def _up(value_m: float) -> str:
    return f"{math.ceil(value_m * 10 - 1e-6) / 10:.1f}"


def _water_level(area: Charted) -> tuple[str, str]:
    if area.clearance is None:
        return "", _unknown(area)
    if area.clearance.value_m - area.clearance.u95_m <= 0:
        return "", f"it is not certain that {area.clearance.tag} is under water at {area.chart_datum}"
    return str(ALWAYS_UNDER_WATER), "always under water"


def _sounding(area: Charted) -> tuple[str, str]:
    if area.clearance is None:
        return "", _unknown(area)
    what = f"m below {area.chart_datum}, least clearance, over {area.clearance.tag}"
    return _down(area.clearance.value_m), f"{what}: seabed less height, not sounded over the top"


def _doubt(area: Charted) -> tuple[str, str]:
    if area.clearance is None:
        return "", _unknown(area)
    return _up(area.clearance.u95_m), "m, 95 %, of the least clearance"


def _quality(area: Charted) -> tuple[str, str]:
    word = "depth unknown" if area.clearance is None else "value reported (not surveyed)"
    return str(QUALITY[word]), word


def _technique(area: Charted) -> tuple[str, str]:
    if area.clearance is None:
        return "", _unknown(area)
    if not area.instrument:
        return "", f"the instrument of the depth at {area.clearance.tag} is not recorded"
    if area.instrument not in TECHNIQUES:
        return "", f"no value of the standard fits a depth by {area.instrument}"
    code, words = TECHNIQUES[area.instrument]
    return str(code), f"{words}: the seabed at {area.clearance.tag}"


def _datum(area: Charted) -> tuple[str, str]:
    found = VERTICAL_DATUMS.get(area.chart_datum.upper())
    if found is None:
        return "", f"{area.chart_datum} is no value of the standard"
    return str(found[0]), found[1]


def _height(area: Charted) -> tuple[str, str]:
    if not math.isfinite(area.greatest_height_m):
        return (
            "",
            "no module lies in the area" if not area.count else "the height of a module is not recorded",
        )
    return _up(area.greatest_height_m), "m, height of the tallest module above the seabed"


def _surrounding(area: Charted) -> tuple[str, str]:
    if not math.isfinite(area.least_depth_m):
        return "", "no module lies in the area" if not area.count else "no depth of the seabed is recorded"
    return _down(area.least_depth_m), f"m below {area.chart_datum}, shoalest seabed recorded at a module"


def _reported(area: Charted) -> tuple[str, str]:
    if area.last_placed is None:
        return "", "no module lies in the area"
    return f"{area.last_placed:%Y%m%d}", "day of the last placement"


def _outline(area: Charted) -> tuple[str, str]:
    if not math.isfinite(area.corners_within_m):
        return "", "the corners are not known"
    return _up(
        area.corners_within_m
    ), "m, of the outline: the last digit of its corners, and their datum operation"
