"""
The public layers, as a desktop GIS connects to them: features with identifiers, found by place and day.

Sources
-------
OGC 17-069r4, 7.15 (features of a collection), 8.3 (GeoJSON); RFC 7946, 5.2 (boxes across the 180th meridian).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import shape

from registry.formats.feature_query import Box, FeatureQuery, Period
from registry.formats.geojson import public_features
from registry.records.public_site import PublicSite

__all__ = ["Found", "Layer", "public_layers"]

_TITLES = {
    "areas": ("permit area", "Permit areas", "Areas in which modules may be placed, with their conditions."),
    "keep-outs": ("keep-out", "Keep-outs", "What modules stay clear of: cables, channels, wrecks, habitats."),
    "modules": (
        "module",
        "Modules",
        "Modules at rest on the seabed, as far as the programme publishes them.",
    ),
}
_EARLIEST, _LATEST = date.min.toordinal(), date.max.toordinal()


@dataclass(frozen=True, slots=True)
class Found:
    """What was found: one page of it, and how many there are in all."""

    features: Sequence[Mapping[str, Any]]
    matched: int


@dataclass(frozen=True, slots=True, eq=False)
class Layer:
    """One collection."""

    layer_id: str
    title: str
    description: str
    features: tuple[Mapping[str, Any], ...]
    #: West, south, east, north of each part of a feature, and to which feature it belongs. Units: degrees.
    boxes: NDArray[np.float64]
    of_feature: NDArray[np.intp]
    #: First and last day of each feature, as ordinals; open ends are the ends of the calendar.
    days: NDArray[np.int64]

    @property
    def extent(self) -> list[float] | None:
        """The box around everything; None where there is nothing."""
        if not len(self.boxes):
            return None
        west, south = self.boxes[:, :2].min(axis=0)
        east, north = self.boxes[:, 2:].max(axis=0)
        return [float(west), float(south), float(east), float(north)]

    def find(self, query: FeatureQuery) -> Found:
        """Give the features that touch the box and the period asked for, in order."""
        wanted = np.ones(len(self.features), dtype=bool)
        if query.box is not None:
            wanted[:] = False
            wanted[self.of_feature[_touching(self.boxes, query.box)]] = True
        if query.period is not None:
            wanted &= _within(self.days, query.period)
        rows = np.flatnonzero(wanted)
        page = rows[query.offset : query.offset + query.limit]
        return Found([self.features[row] for row in page], len(rows))

    def feature(self, feature_id: str) -> Mapping[str, Any] | None:
        """Give one feature by its identifier, or None."""
        return next((feature for feature in self.features if feature["id"] == feature_id), None)


def public_layers(site: PublicSite) -> tuple[Layer, ...]:
    """
    Make the layers of a public site: permit areas, keep-outs and modules, each in WGS 84.

    A feature is named by what it is: permit and area, tag, or the number of a keep-out. Of two that would be
    named alike, as a tag recorded twice, the second has "~2" behind its name.
    """
    sorted_out: dict[str, list[Mapping[str, Any]]] = {kind: [] for kind, _, _ in _TITLES.values()}
    for feature in public_features(site):
        sorted_out[feature["properties"]["feature"]].append(feature)
    days: dict[str, list[tuple[date | None, date | None]]] = {
        "permit area": [(area.valid_from, area.valid_to) for area in site.areas],
        "keep-out": [(None, None)] * len(site.keep_outs),
        "module": [(module.placed_on, module.placed_on) for module in site.modules],
    }
    names = {
        "permit area": [f"{area.permit}.{area.area_id}" for area in site.areas],
        "keep-out": [str(number) for number in range(1, len(site.keep_outs) + 1)],
        "module": [module.tag for module in site.modules],
    }
    return tuple(
        _layer(layer_id, (title, description), sorted_out[kind], names=names[kind], days=days[kind])
        for layer_id, (kind, title, description) in _TITLES.items()
    )


def _layer(
    layer_id: str,
    words: tuple[str, str],
    features: Sequence[Mapping[str, Any]],
    *,
    names: Sequence[str],
    days: Sequence[tuple[date | None, date | None]],
) -> Layer:
    seen: dict[str, int] = {}
    named = []
    for feature, name in zip(features, names, strict=True):
        seen[name] = seen.get(name, 0) + 1
        named.append({**feature, "id": name if seen[name] == 1 else f"{name}~{seen[name]}"})
    parts = [list(getattr(drawn, "geoms", [drawn])) for drawn in (shape(f["geometry"]) for f in features)]
    return Layer(
        layer_id=layer_id,
        title=words[0],
        description=words[1],
        features=tuple(named),
        boxes=shapely.bounds([part for several in parts for part in several]).reshape(-1, 4),
        of_feature=np.repeat(np.arange(len(parts)), [len(several) for several in parts]),
        days=np.array(
            [
                (first.toordinal() if first else _EARLIEST, last.toordinal() if last else _LATEST)
                for first, last in days
            ],
            dtype=np.int64,
        ).reshape(-1, 2),
    )


def _touching(boxes: NDArray[np.float64], box: Box) -> NDArray[np.intp]:
    west, south, east, north = box
    in_lat = (boxes[:, 1] <= north) & (boxes[:, 3] >= south)
    reaches_east, reaches_west = boxes[:, 2] >= west, boxes[:, 0] <= east
    in_lon = reaches_east & reaches_west if west <= east else reaches_east | reaches_west
    return np.flatnonzero(in_lat & in_lon)


def _within(days: NDArray[np.int64], period: Period) -> NDArray[np.bool_]:
    first, last = period
    after = days[:, 1] >= (first.toordinal() if first else _EARLIEST)
    before = days[:, 0] <= (last.toordinal() if last else _LATEST)
    return np.asarray(after & before)
