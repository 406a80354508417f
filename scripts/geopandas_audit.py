"""
A plain and competent audit with geopandas, to measure Leadline against: the same file, the same questions.

``python scripts/geopandas_audit.py SNAPSHOT.gpkg ANSWER.json [MEASURED.csv]``. Zone by zone of UTM: is each
module inside its area, by at least the setback; how far is it from the edge; how far is its nearest
neighbour, and which pairs are closer, edge to edge, than the spacing. Limits of the permits and uncertainties
as Leadline has them, so that both must find the same modules nonconforming, up to the half metre by which a
plane misstates a distance. With MEASURED.csv the distances are written out too.
"""

import json
import sys
from importlib.util import find_spec
from pathlib import Path

import geopandas
import numpy as np
import pandas as pd
import pyogrio

#: Modules so far beyond the border of a zone still count as neighbours of those in it. Units: degrees.
HALO_DEG = 0.02
#: Reading by arrow is faster where pyarrow is installed.
ARROW = find_spec("pyarrow") is not None


def main(snapshot: Path, answer: Path, measured: Path | None = None) -> None:
    """Audit one snapshot."""

    def layer(name: str, *columns: str) -> geopandas.GeoDataFrame:
        return pyogrio.read_dataframe(snapshot, layer=name, columns=list(columns), use_arrow=ARROW)

    areas = layer("permit_areas", "permit")
    modules = layer("placements", "tag", "permit", "module_type", "r95_m")
    types = layer("module_types", "type_id", "base_radius_m")
    limits = limits_of(layer("conditions", "permit", "rule", "limits"))
    modules["radius_m"] = modules["module_type"].map(types.set_index("type_id")["base_radius_m"])
    modules["setback_m"] = modules["permit"].map(limits["inside-area"])
    modules["least_m"] = modules["permit"].map(limits["spacing"])
    outside: list[str] = []
    close: list[str] = []
    lon = modules.geometry.x
    zone = utm_zone(lon, modules.geometry.y)
    told = []
    for epsg in np.unique(zone):
        own = zone == epsg
        middle = (epsg % 100) * 6.0 - 183.0
        around = own | (np.abs((lon - middle + 180.0) % 360.0 - 180.0) < 3.0 + HALO_DEG)
        here = modules[around].to_crs(epsg)
        own = own[around]
        near = areas[areas["permit"].isin(here["permit"].unique())].to_crs(epsg)
        inside_m = depth_inside(here[own], near)
        outside += list(here["tag"][own][inside_m + here["r95_m"][own] < here["setback_m"][own]])
        nearest_m, tags = spacing(here.reset_index(drop=True), own)
        close += list(tags)
        told.append(pd.DataFrame({"tag": here["tag"][own], "inside_m": inside_m, "nearest_m": nearest_m}))
    result = {"inside-area": sorted(outside), "spacing": sorted(close)}
    answer.write_text(json.dumps(result), encoding="utf-8")
    if measured:
        pd.concat(told).to_csv(measured, index=False)


def limits_of(conditions: pd.DataFrame) -> dict[str, pd.Series]:
    """Give the one limit of each rule that is asked here, by permit."""
    asked = {"inside-area": "setback", "spacing": "least"}
    return {
        rule: conditions[conditions["rule"] == rule]
        .set_index("permit")["limits"]
        .map(lambda text, name=name: json.loads(text)[name]["value"])
        for rule, name in asked.items()
    }


def utm_zone(lon: pd.Series, lat: pd.Series) -> np.ndarray:
    """Give the EPSG code of the UTM zone (WGS 84) of each point."""
    zone = np.floor((lon.to_numpy() + 180) / 6).astype(int) + 1
    return np.where(lat.to_numpy() >= 0, 32600, 32700) + zone


def depth_inside(modules: geopandas.GeoDataFrame, areas: geopandas.GeoDataFrame) -> pd.Series:
    """Give how far each module lies inside its own permit's area, negative outside."""
    held = geopandas.sjoin(modules, areas, predicate="within", how="inner")
    inside = modules.index.isin(held.index[held["permit_left"] == held["permit_right"]])
    edges = areas.set_index("permit").geometry.boundary
    own = geopandas.GeoSeries(edges.loc[modules["permit"]].to_numpy(), index=modules.index, crs=modules.crs)
    distance = modules.geometry.distance(own)
    return distance.where(inside, -distance)


def spacing(modules: geopandas.GeoDataFrame, own: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Measure the nearest of each module that is asked, and give the tags certainly too near another."""
    points = modules.geometry
    asked = points[own]
    radius, r95 = modules["radius_m"].to_numpy(), modules["r95_m"].to_numpy()
    least = modules["least_m"].to_numpy()
    _, nearest_m = points.sindex.nearest(asked, exclusive=True, return_all=False, return_distance=True)
    reach = least.max() + 2 * radius.max()
    i, j = points.sindex.query(asked, predicate="dwithin", distance=reach)
    i = np.flatnonzero(own)[i]
    i, j = i[i != j], j[i != j]
    edge = points.iloc[i].distance(points.iloc[j], align=False).to_numpy() - radius[i] - radius[j]
    wrong = edge + np.hypot(r95[i], r95[j]) < least[i]
    return nearest_m, modules["tag"].to_numpy()[np.unique(i[wrong])]


if __name__ == "__main__":
    main(*map(Path, sys.argv[1:4]))
