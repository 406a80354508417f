"""
How long one check takes where the registry is open already.

``python scripts/warm_check.py ARCHIVE.gpkg [--places 200] [--seed 1]`` prints two medians in microseconds: of
the whole check as ``Registry.check`` does it (the text is read, the position brought home, every rule asked,
neighbours named, a move sought), and of the rules alone, which is what a database is asked.
"""

import argparse
import json
import sqlite3
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

import numpy as np
from make_archive import FRAME, USUAL
from pyproj import Geod

from registry import open_registry
from registry.actions.check_placement import check_placement
from registry.actions.settle_position import Settled
from registry.formats.written_position import read_position_in
from registry.records.position import HomePosition, Position
from registry.storage.clock import SystemClock
from registry.storage.geopackage import open_register

__all__ = ["Place", "places_of", "rules_us", "text_of", "whole_us"]

Place = tuple[str, float, float]
GEOD = Geod(ellps="GRS80")
R95_M = 0.2
#: Checks that do not count; those that do, however long they take; how long to go on. Units of the last: s.
WARM_UP, FEWEST, PATIENCE_S = 3, 5, 20.0


def main() -> None:
    """Read the command line and print both medians as JSON."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("archive", type=Path)
    parser.add_argument("--places", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    places = places_of(asked.archive, count=asked.places, seed=asked.seed)
    told = {"rules_us": rules_us(asked.archive, places), "whole_us": whole_us(asked.archive, places)}
    print(json.dumps(told))


def places_of(archive: Path, *, count: int, seed: int) -> list[Place]:
    """Give permits and places to be checked: some metres from modules that lie there. Units: degrees."""
    random = np.random.default_rng(seed)
    database = sqlite3.connect(f"{archive.absolute().as_uri()}?mode=ro", uri=True)
    first, last = database.execute("SELECT min(fid), max(fid) FROM placements").fetchone()
    found: list[Place] = []
    for fid in random.integers(first, last, count, endpoint=True).tolist():
        row = database.execute(
            "SELECT permit, lon_deg, lat_deg FROM placements WHERE fid >= ? ORDER BY fid LIMIT 1", (fid,)
        ).fetchone()
        lon, lat, _ = GEOD.fwd(row[1], row[2], random.uniform(0, 360), random.uniform(7.0, 9.0))
        found.append((row[0], lon, lat))
    database.close()
    return found


def text_of(lon: float, lat: float) -> str:
    """Write a place as a crew types it."""
    return f"{abs(lat):.7f} {'NS'[lat < 0]} {abs(lon):.7f} {'EW'[lon < 0]}"


def rules_us(archive: Path, places: list[Place]) -> float:
    """Give the median of a check whose position is settled. Units: microseconds."""
    with open_register(archive, clock=SystemClock(), writable=False) as register:
        now = SystemClock().now()

        def check(place: Place) -> None:
            permit, lon, lat = place
            observed = Position(lat_deg=lat, lon_deg=lon, frame=FRAME, epoch=2010.0, r95_m=R95_M)
            home = HomePosition(position=observed, operation="none: same frame", accuracy_m=0.0, software="")
            check_placement(
                register,
                permit_number=permit,
                type_id=USUAL,
                written=read_position_in(text_of(lon, lat), FRAME),
                settled=Settled(observed=observed, home=home, basis=(), warnings=()),
                depth=None,
                at=now,
            )

        return _median_us(check, places)


def whole_us(archive: Path, places: list[Place]) -> float:
    """Give the median of a check from the text on. Units: microseconds."""
    with open_registry(archive) as reef:

        def check(place: Place) -> None:
            permit, lon, lat = place
            reef.check(permit=permit, module_type=USUAL, at=text_of(lon, lat), frame=FRAME, r95=f"{R95_M} m")

        return _median_us(check, places)


def _median_us(check: Callable[[Place], None], places: list[Place]) -> float:
    taken: list[float] = []
    began = time.perf_counter()
    for turn, place in enumerate((*places[:WARM_UP], *places)):
        start = time.perf_counter()
        check(place)
        end = time.perf_counter()
        if turn >= WARM_UP:  # the first few load what a process loads once
            taken.append(end - start)
        if len(taken) >= FEWEST and end - began > PATIENCE_S:
            break
    return median(taken) * 1e6


if __name__ == "__main__":
    main()
