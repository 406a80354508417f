"""
A plain and competent audit with geopandas, to measure Leadline against: the same file, the same questions.

``python scripts/geopandas_audit.py SNAPSHOT.gpkg ANSWER.json``. Zone by zone of UTM: is each module inside
its area, by at least the setback; how far is it from the edge; how far is its nearest neighbour, and which
pairs are closer, edge to edge, than the spacing. Limits and uncertainties as Leadline has them, so that both
must find the same modules nonconforming, up to the half metre by which a plane misstates a distance.
"""

import json
import sys
from pathlib import Path

import geopandas
import numpy as np
import pandas as pd
import pyogrio

#: The conditions of the archive (scripts/make_archive.py), read by hand as a person who writes this would.
SETBACK_M, LEAST_SPACING_M = 30.0, 6.0


def main(snapshot: Path, answer: Path) -> None:
    """Audit one snapshot."""
    areas = pyogrio.read_dataframe(snapshot, layer="permit_areas", columns=["permit"])
    modules = pyogrio.read_dataframe(
        snapshot, layer="placements", columns=["tag", "permit", "module_type", "r95_m"]
    )
    types = pyogrio.read_dataframe(snapshot, layer="module_types", columns=["type_id", "base_radius_m"])
    modules["radius_m"] = modules["module_type"].map(types.set_index("type_id")["base_radius_m"])
    outside: list[str] = []
    close: list[str] = []
    for epsg, members in modules.groupby(utm_zone(modules.geometry.x, modules.geometry.y)):
        here = members.to_crs(epsg).reset_index(drop=True)
        near = areas[areas["permit"].isin(here["permit"].unique())].to_crs(epsg)
        outside += list(not_inside(here, near))
        close += list(too_close(here))
    result = {"inside-area": sorted(outside), "spacing": sorted(close)}
    answer.write_text(json.dumps(result), encoding="utf-8")


def utm_zone(lon: pd.Series, lat: pd.Series) -> np.ndarray:
    """Give the EPSG code of the UTM zone (WGS 84) of each point."""
    zone = np.floor((lon + 180) / 6).astype(int) + 1
    return np.where(lat >= 0, 32600, 32700) + zone


def not_inside(modules: geopandas.GeoDataFrame, areas: geopandas.GeoDataFrame) -> pd.Series:
    """Give the tags that are certainly not inside their own permit's area by the setback."""
    held = geopandas.sjoin(modules, areas, predicate="within", how="inner")
    inside = modules.index.isin(held.index[held["permit_left"] == held["permit_right"]])
    edges = areas.set_index("permit").geometry.boundary
    own = geopandas.GeoSeries(edges.loc[modules["permit"]].to_numpy(), index=modules.index, crs=modules.crs)
    distance = modules.geometry.distance(own)
    depth = np.where(inside, distance, -distance)
    return modules["tag"][depth + modules["r95_m"] < SETBACK_M]


def too_close(modules: geopandas.GeoDataFrame) -> np.ndarray:
    """Give the tags with a neighbour that is certainly too close; measure the nearest of each."""
    points = modules.geometry
    radius, r95 = modules["radius_m"].to_numpy(), modules["r95_m"].to_numpy()
    rows, nearest_m = points.sindex.nearest(points, exclusive=True, return_all=False, return_distance=True)
    modules.loc[rows[0], "nearest_m"] = nearest_m
    reach = LEAST_SPACING_M + 2 * radius.max()
    i, j = points.sindex.query(points, predicate="dwithin", distance=reach)
    i, j = i[i != j], j[i != j]
    edge = points.iloc[i].distance(points.iloc[j], align=False).to_numpy() - radius[i] - radius[j]
    wrong = edge + np.hypot(r95[i], r95[j]) < LEAST_SPACING_M
    return modules["tag"].to_numpy()[np.unique(i[wrong])]


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
