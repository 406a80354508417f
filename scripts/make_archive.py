"""
Make a large registry whose every violation is known, through the journal like any other.

``python scripts/make_archive.py FILE.gpkg --modules 100000 [--seed 1]``. Permits lie off many coasts, in both
hemispheres and in several UTM zones, each with a rugged area and modules on a grid inside it. Planted, and
written to FILE.gpkg.planted.json by rule: modules outside their area, inside it but nearer to the edge than
the setback, and too near a neighbour. No other module comes within metres of a limit.
"""

import argparse
import base64
import json
from copy import deepcopy
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from pyproj import Geod

from registry.actions.open_programme import add_module_types
from registry.formats.module_table import read_module_types
from registry.formats.written_quantity import read_length
from registry.records.body import module_body, permit_body, placement_body
from registry.records.certificate import key_thumbprint
from registry.records.entry import Draft, instant_text
from registry.records.module import Module
from registry.records.permit import Area, Condition, Permit
from registry.records.placement import Placement
from registry.records.position import HomePosition, Position
from registry.records.programme import Programme
from registry.storage.clock import SystemClock
from registry.storage.geopackage import create_registry
from registry.storage.shipped import shipped_text

__all__ = ["LEAST_SPACING_M", "SETBACK_M", "make_archive"]

FRAME, FRAME_EPOCH = "EPSG:6318", 2010.0
GEOD = Geod(ellps="GRS80")
ACTOR = "make_archive"
SETBACK_M = 30.0
LEAST_SPACING_M = 6.0
R95_M = 0.2
#: Modules on the grid of one permit, and the distance between them. Units: m.
PER_PERMIT, GRID_M = 500, 15.0
TYPE_ID, BATCH = "hump-90", 10_000
#: Shares of the modules that break a rule.
OUTSIDE, NEAR_EDGE, CLOSE = 0.004, 0.004, 0.006
#: Seas where permits are strewn: latitudes and longitudes of their middle. Units: degrees.
SEAS = (
    (34.0, -77.0),
    (27.5, -80.0),
    (29.8, -87.5),
    (33.2, -118.6),
    (21.2, -158.2),
    (18.2, -65.1),
    (-14.4, -170.6),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """One permit with the places of its modules."""

    permit: Permit
    lon_deg: np.ndarray
    lat_deg: np.ndarray
    #: Rows that break a rule, by its identifier.
    planted: dict[str, list[int]]


def main() -> None:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("file", type=Path)
    parser.add_argument("--modules", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    planted = make_archive(asked.file, modules=asked.modules, seed=asked.seed)
    told = ", ".join(f"{len(tags)} {rule}" for rule, tags in planted.items())
    print(f"Wrote {asked.file}: {asked.modules} modules; planted: {told}.")


def make_archive(file: Path, *, modules: int, seed: int) -> dict[str, list[str]]:
    """
    Make a registry.

    Returns
    -------
    dict
        The tags that break each rule, also written beside the file.
    """
    random = np.random.default_rng(seed)
    public = random.bytes(32)
    programme = Programme(
        name="Archive for measuring",
        frame=FRAME,
        frame_epoch=FRAME_EPOCH,
        zone="UTC",
        key_id=key_thumbprint(public),
        public_key=base64.urlsafe_b64encode(public).rstrip(b"=").decode(),
    )
    planted: dict[str, list[str]] = {"inside-area": [], "spacing": []}
    with create_registry(file, programme, actor=ACTOR, clock=SystemClock()) as register:
        add_module_types(register, read_module_types(shipped_text("module_types.csv")), actor=ACTOR)
        template = _placement_template()
        drafts: list[Draft] = []
        made = 0
        while made < modules:
            number = made // PER_PERMIT
            site = _site(number, min(PER_PERMIT, modules - made), random)
            drafts.append(Draft(kind="permit.added", actor=ACTOR, body=permit_body(site.permit)))
            tags = [f"A-{made + row:07d}" for row in range(len(site.lon_deg))]
            for rule, rows in site.planted.items():
                planted[rule] += [tags[row] for row in rows]
            drafts += _entries(site, tags, template)
            made += len(tags)
            if len(drafts) >= BATCH:
                register.append(drafts)
                drafts = []
        register.append(drafts)
    for rule in planted.values():
        rule.sort()
    file.with_name(f"{file.name}.planted.json").write_text(json.dumps(planted), encoding="utf-8")
    return planted


def _entries(site: Site, tags: list[str], template: dict[str, Any]) -> list[Draft]:
    """Give the entries of the modules of one site and of their placements."""
    drafts = []
    module = module_body(Module(tag="template", type_id=TYPE_ID))
    start = datetime(2025, 5, 1, 12, tzinfo=UTC)
    for row, tag in enumerate(tags):
        lon, lat = float(site.lon_deg[row]), float(site.lat_deg[row])
        body = deepcopy(template)
        body["tag"], body["permit"] = tag, site.permit.number
        body["placed_at"] = instant_text(start + timedelta(minutes=10 * row))
        body["position_text"] = f"{lat:.8f}, {lon:.8f}"
        for position in (body["observed"], body["home"]["position"]):
            position["lon_deg"], position["lat_deg"] = lon, lat
        drafts.append(Draft(kind="module.added", actor=ACTOR, body=module | {"tag": tag}))
        drafts.append(Draft(kind="placement.logged", actor=ACTOR, body=body))
    return drafts


def _placement_template() -> dict[str, Any]:
    """Give the body of a placement as the journal keeps it, to be filled in."""
    position = Position(lat_deg=0.0, lon_deg=0.0, frame=FRAME, epoch=FRAME_EPOCH, r95_m=R95_M)
    home = HomePosition(position=position, operation="none: same frame", accuracy_m=0.0, software="none")
    placement = Placement(
        tag="template",
        permit="template",
        placed_at=datetime(2025, 5, 1, tzinfo=UTC),
        position_text="",
        observed=position,
        home=home,
        basis=("Made for measuring.",),
        charted_depth_m=20.0,
        depth_u95_m=0.5,
        depth_text="20.0 m",
    )
    return placement_body(placement) | {"verdict": "conforming"}


def _site(number: int, count: int, random: np.random.Generator) -> Site:
    """Lay out one permit: modules on a grid in a rugged area, some moved to where they break a rule."""
    sea_lat, sea_lon = SEAS[number % len(SEAS)]
    # Sites of one sea stand on a lattice, some kilometres apart.
    place = number // len(SEAS)
    lat, lon = sea_lat + 0.03 * (place % 16), sea_lon + 0.03 * (place // 16)
    side = int(np.ceil(np.sqrt(count)))
    at = np.arange(count)
    offset = (np.column_stack([at % side, at // side]) - (side - 1) / 2) * GRID_M
    offset += random.uniform(-1.0, 1.0, offset.shape)
    radius = side * GRID_M / 2 * np.sqrt(2) + SETBACK_M + 25.0
    angles = np.linspace(0.0, 2 * np.pi, 60, endpoint=False)
    reach = radius + random.uniform(0.0, 20.0, 60)
    ring = np.column_stack([np.cos(angles), np.sin(angles)]) * reach[:, None]
    area = shapely.Polygon(_on_earth(ring, lat, lon))

    broken = random.permutation(count)
    outside, near_edge, close = np.split(broken, np.cumsum(_counts(count, OUTSIDE, NEAR_EDGE, CLOSE)))[:3]
    spokes = random.permutation(60)
    for spoke, row in zip(spokes, outside, strict=False):
        offset[row] = ring[spoke] * (1 + 15.0 / reach[spoke])
    for spoke, row in zip(spokes[len(outside) :], near_edge, strict=False):
        offset[row] = ring[spoke] * (1 - 10.0 / reach[spoke])
    pairs: list[int] = []
    for row in close:
        neighbour = row + 1 if (row + 1) % side and row + 1 < count else row - 1
        if {int(row), int(neighbour)} & {*pairs, *outside.tolist(), *near_edge.tolist()} or neighbour < 0:
            continue
        # 3 to 4 m between the edges of the bases (radius 0.65 m).
        offset[row] = offset[neighbour] + [0.0, random.uniform(4.3, 5.3)]
        pairs += [int(row), int(neighbour)]
    lonlat = _on_earth(offset, lat, lon)
    return Site(
        permit=_permit(number, area),
        lon_deg=lonlat[:, 0],
        lat_deg=lonlat[:, 1],
        planted={"inside-area": [*outside.tolist(), *near_edge.tolist()], "spacing": pairs},
    )


def _counts(count: int, *shares: float) -> list[int]:
    return [round(count * share) for share in shares]


def _on_earth(offset_m: np.ndarray, lat: float, lon: float) -> np.ndarray:
    """Give longitude and latitude of offsets east and north of a place."""
    azimuth = np.degrees(np.arctan2(offset_m[:, 0], offset_m[:, 1]))
    distance = np.hypot(offset_m[:, 0], offset_m[:, 1])
    all_lon, all_lat = np.full(len(offset_m), lon), np.full(len(offset_m), lat)
    lon_deg, lat_deg, _ = GEOD.fwd(all_lon, all_lat, azimuth, distance)
    return np.column_stack([lon_deg, lat_deg])


def _permit(number: int, area: shapely.Polygon) -> Permit:
    name = f"AR-{number:05d}"
    return Permit(
        number=name,
        authority="Archive for measuring",
        valid_from=date(2024, 1, 1),
        valid_to=date(2040, 1, 1),
        chart_datum="MLLW",
        areas=(
            Area(
                area_id=name,
                shape=area,
                edges="geodesic",
                frame=FRAME,
                epoch=FRAME_EPOCH,
                written="made for measuring",
                operation="none: same frame",
            ),
        ),
        conditions=(
            Condition(rule="inside-area", cite="1", limits={"setback": read_length(f"{SETBACK_M} m")}),
            Condition(rule="spacing", cite="2", limits={"least": read_length(f"{LEAST_SPACING_M} m")}),
        ),
    )


if __name__ == "__main__":
    main()
