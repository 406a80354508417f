"""
Codes of the standards for electronic charts that a fish haven needs.

Sources
-------
IHO S-57 edition 3.1, appendix A, object and attribute catalogue: OBSTRN and CATOBS as in public tables; the
values of VERDAT, TECSOU, QUASOU, WATLEV and NATCON from memory. IHO S-101 feature catalogue 2.0.0:
Obstruction, its categories 5 and 14, and which attributes are mandatory; the names of the vertical attributes
from memory. IHO S-65 annex B: POSACC becomes horizontalPositionUncertainty; both belong to the outline.
"""

from collections.abc import Mapping
from types import MappingProxyType

__all__ = [
    "ALWAYS_UNDER_WATER",
    "ARTIFICIAL_REEF",
    "CONCRETED",
    "FISH_HAVEN",
    "MANDATORY",
    "QUALITY",
    "TECHNIQUES",
    "VERTICAL_DATUMS",
]

#: CATOBS and categoryOfObstruction; 14 only in S-101.
FISH_HAVEN = 5
ARTIFICIAL_REEF = 14
#: What S-101 asks for in every Obstruction.
MANDATORY = frozenset({"waterLevelEffect", "surroundingDepth"})
#: WATLEV and waterLevelEffect.
ALWAYS_UNDER_WATER = 3
#: NATCON and natureOfConstruction.
CONCRETED = 2
#: QUASOU and qualityOfVerticalMeasurement.
QUALITY: Mapping[str, int] = MappingProxyType({"depth unknown": 2, "value reported (not surveyed)": 8})
#: TECSOU and techniqueOfVerticalMeasurement, by the instrument that the registry records.
TECHNIQUES: Mapping[str, tuple[int, str]] = MappingProxyType(
    {
        "echo": (1, "found by echo sounder"),
        "gauge": (4, "found by diver"),
        "lead": (5, "found by lead line"),
    }
)
#: VERDAT and verticalDatum, by the names that a permit gives its chart datum.
VERTICAL_DATUMS: Mapping[str, tuple[int, str]] = MappingProxyType(
    {
        "MLWS": (1, "mean low water springs"),
        "MSL": (3, "mean sea level"),
        "MEAN SEA LEVEL": (3, "mean sea level"),
        "LLW": (4, "lowest low water"),
        "MLW": (5, "mean low water"),
        "MEAN LOW WATER": (5, "mean low water"),
        "ISLW": (8, "Indian spring low water"),
        "MLLW": (12, "mean lower low water"),
        "MEAN LOWER LOW WATER": (12, "mean lower low water"),
        "MHW": (16, "mean high water"),
        "MHWS": (17, "mean high water springs"),
        "MHHW": (21, "mean higher high water"),
        "LAT": (23, "lowest astronomical tide"),
        "LOWEST ASTRONOMICAL TIDE": (23, "lowest astronomical tide"),
        "IGLD85": (25, "International Great Lakes Datum 1985"),
        "IGLD 85": (25, "International Great Lakes Datum 1985"),
        "LLWLT": (27, "lower low water large tide"),
        "HHWLT": (28, "higher high water large tide"),
        "HAT": (30, "highest astronomical tide"),
    }
)
