"""
Make a large registry whose every violation is known, through the journal like any other.

``python scripts/make_archive.py FILE.gpkg --modules 100000 [--seed 1] [--all-rules]``. Permits lie off many
coasts, across the 180th meridian and in the far north, in pairs whose areas touch. Planted, and written to
FILE.gpkg.planted.json by rule: modules outside their area, too near its edge, too near a neighbour of either
permit, and modules within millimetres of a limit, of which nothing can be concluded. With --all-rules the
permits state every condition, and modules that break each one are planted. No other comes within a decimetre
of a limit.
"""

import argparse
import base64
import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
from archive_layout import PER_PERMIT, R95_M, SEAS, USUAL, KeepOutShape, Site, lay_out, shore_of

from registry.actions.open_programme import add_module_types
from registry.formats.module_table import read_module_types
from registry.formats.written_quantity import read_length, read_mass
from registry.records.baseline import Baseline
from registry.records.body import (
    baseline_body,
    keep_out_body,
    module_body,
    permit_body,
    placement_body,
    target_body,
)
from registry.records.certificate import key_thumbprint
from registry.records.entry import Draft
from registry.records.module import Memorial, Module
from registry.records.permit import Area, Condition, KeepOut, Permit
from registry.records.placement import Placement
from registry.records.position import HomePosition, Position
from registry.records.programme import Programme
from registry.records.quantity import Dimension, Quantity
from registry.records.target import Target
from registry.storage.clock import SystemClock
from registry.storage.geopackage import create_registry
from registry.storage.shipped import shipped_text

__all__ = ["EPOCH", "FRAME", "SEAS", "Planted", "make_archive", "read_planted"]

FRAME, EPOCH = "EPSG:6318", 2010.0
ACTOR = "make_archive"
UNCHANGED = "none: same frame"
#: Entries of one transaction, and how much of the tables SQLite may hold meanwhile. Units of the latter: KiB.
BATCH, CACHE_KIB = 50_000, 400_000


@dataclass(frozen=True, slots=True)
class Planted:
    """Tags by rule, in order: of what breaks it, and of what stands so near a limit that nobody can tell."""

    nonconforming: dict[str, list[str]] = field(default_factory=dict)
    inconclusive: dict[str, list[str]] = field(default_factory=dict)


def main() -> None:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("file", type=Path)
    parser.add_argument("--modules", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--all-rules", action="store_true", help="State every condition, and break each.")
    asked = parser.parse_args()
    planted = make_archive(asked.file, modules=asked.modules, seed=asked.seed, all_rules=asked.all_rules)
    told = ", ".join(f"{len(tags)} {rule}" for rule, tags in planted.nonconforming.items())
    doubtful = ", ".join(f"{len(tags)} {rule}" for rule, tags in planted.inconclusive.items())
    print(f"Wrote {asked.file}: {asked.modules} modules; planted: {told or 'nothing'}.")
    print(f"Within millimetres of a limit: {doubtful or 'none'}.")


def make_archive(file: Path, *, modules: int, seed: int, all_rules: bool = False) -> Planted:
    """
    Make a registry.

    Parameters
    ----------
    file : Path
        The registry, which must not exist.
    modules : int
        How many placements it holds.
    seed : int
        The same seed plants the same.
    all_rules : bool
        Whether the permits state a condition for every rule.

    Returns
    -------
    Planted
        What is known of it, also written beside the file.
    """
    random = np.random.default_rng(seed)
    public = random.bytes(32)
    programme = Programme(
        name="Archive for measuring",
        frame=FRAME,
        frame_epoch=EPOCH,
        zone="UTC",
        key_id=key_thumbprint(public),
        public_key=base64.urlsafe_b64encode(public).rstrip(b"=").decode(),
    )
    planted = Planted()
    with create_registry(file, programme, actor=ACTOR, clock=SystemClock()) as register:
        # Digests and tags come in no order: with a small cache each would be sought on the disk.
        register.connection.execute(f"PRAGMA cache_size = -{CACHE_KIB}")
        add_module_types(register, read_module_types(shipped_text("module_types.csv")), actor=ACTOR)
        template = _placement_template()
        drafts = [_baseline(sea) for sea in range(len(SEAS))] if all_rules else []
        for site, first in _sites(modules, random, all_rules=all_rules):
            tags = [f"A-{first + row:07d}" for row in site.tag_of.tolist()]
            for kept, rows in (
                (planted.nonconforming, site.nonconforming),
                (planted.inconclusive, site.inconclusive),
            ):
                for rule, those in rows.items():
                    kept.setdefault(rule, []).extend(tags[row] for row in those)
            drafts.append(
                Draft(kind="permit.added", actor=ACTOR, body=permit_body(_permit(site, all_rules=all_rules)))
            )
            drafts += [_keep_out(site, shape) for shape in site.keep_outs]
            drafts += _targets(site, tags)
            drafts += _entries(site, tags, template)
            if len(drafts) >= BATCH:
                register.append(drafts)
                drafts = []
        register.append(drafts)
    for kept in (planted.nonconforming, planted.inconclusive):
        for rule, tags in kept.items():
            kept[rule] = sorted(set(tags))
    told = {"nonconforming": planted.nonconforming, "inconclusive": planted.inconclusive}
    _planted_beside(file).write_text(json.dumps(told), encoding="utf-8")
    return planted


def read_planted(file: Path) -> Planted:
    """Give what was planted in an archive, from the file beside it."""
    return Planted(**json.loads(_planted_beside(file).read_text(encoding="utf-8")))


def _planted_beside(file: Path) -> Path:
    return file.with_name(f"{file.name}.planted.json")


def _sites(modules: int, random: np.random.Generator, *, all_rules: bool) -> Iterator[tuple[Site, int]]:
    """Give every site with the number of its first module."""
    first = pair = 0
    while first < modules:
        both = min(2 * PER_PERMIT, modules - first)
        counts = (min(PER_PERMIT, both), both - min(PER_PERMIT, both))
        for site in lay_out(pair, tuple(n for n in counts if n), random, all_rules=all_rules):
            yield site, first
            first += len(site.lon_deg)
        pair += 1


def _entries(site: Site, tags: list[str], template: dict[str, Any]) -> Iterator[Draft]:
    """Give the entries of the modules of one site and of their placements."""
    plain = module_body(Module(tag="template", type_id=USUAL))
    number = _number(site)
    known: set[str] = set()
    named = set(site.memorial_of[site.memorial_of != np.arange(len(tags))].tolist())
    observed, home = template["observed"], template["home"]
    columns = (site.lon_deg, site.lat_deg, site.r95_m, site.depth_m, site.memorial_of, site.type_id)
    times = np.datetime_as_string(site.placed_at.astype("datetime64[ms]"), timezone="UTC")
    rows = zip(tags, times.tolist(), *(column.tolist() for column in columns), strict=True)
    for tag, time, lon, lat, r95, depth, memorial, type_id in rows:
        if tag not in known:
            known.add(tag)
            module = plain | {"tag": tag, "type_id": type_id}
            if memorial in named:
                module = module_body(
                    Module(tag=tag, type_id=type_id, memorial=Memorial(name=f"Name {number} {memorial}"))
                )
            yield Draft(kind="module.added", actor=ACTOR, body=module)
        place = {"lon_deg": lon, "lat_deg": lat, "r95_m": r95}
        body = template | {
            "tag": tag,
            "permit": number,
            "placed_at": time,
            "position_text": f"{lat:.8f}, {lon:.8f}",
            "observed": observed | place,
            "home": home | {"position": home["position"] | place},
            "charted_depth_m": depth,
            "depth_text": f"{depth:.1f} m",
        }
        yield Draft(kind="placement.logged", actor=ACTOR, body=body)


def _placement_template() -> dict[str, Any]:
    """Give the body of a placement as the journal keeps it, to be filled in."""
    position = Position(lat_deg=0.0, lon_deg=0.0, frame=FRAME, epoch=EPOCH, r95_m=R95_M)
    home = HomePosition(position=position, operation=UNCHANGED, accuracy_m=0.0, software="none")
    placement = Placement(
        tag="template",
        permit="template",
        placed_at=SystemClock().now(),
        position_text="",
        observed=position,
        home=home,
        basis=("Made for measuring.",),
        charted_depth_m=0.0,
        depth_u95_m=0.3,
        depth_text="",
    )
    return placement_body(placement) | {"verdict": "conforming"}


def _number(site: Site) -> str:
    return f"AR-{site.number:05d}"


def _permit(site: Site, *, all_rules: bool) -> Permit:
    conditions = [
        Condition(
            rule="inside-area", cite="1", limits={"setback": read_length(f"{site.limits.setback_m} m")}
        ),
        Condition(
            rule="spacing", cite="2", limits={"least": read_length(f"{site.limits.least_spacing_m} m")}
        ),
    ]
    return Permit(
        number=_number(site),
        authority="Archive for measuring",
        valid_from=date(2024, 1, 1),
        valid_to=date(2040, 1, 1),
        chart_datum="MLLW",
        areas=(
            Area(
                area_id="reef",
                shape=site.area,
                edges="geodesic",
                frame=FRAME,
                epoch=EPOCH,
                written="made for measuring",
                operation=UNCHANGED,
            ),
        ),
        conditions=(*conditions, *(_other_conditions(site) if all_rules else ())),
    )


def _other_conditions(site: Site) -> tuple[Condition, ...]:
    """Give a condition of every rule beyond position and spacing that is not asked anyway."""

    def words(text: str) -> Quantity:
        return Quantity(value=0.0, dimension="text", written=text)

    def number(value: float, dimension: Dimension, written: str) -> Quantity:
        return Quantity(value=value, dimension=dimension, written=written)

    count = site.limits.greatest_count
    counted = Quantity(value=float(count), dimension="count", written=str(count))
    share = Quantity(value=0.1, dimension="share", written="10 %")
    mass = read_mass(f"{site.limits.greatest_mass_kg:.0f} kg")
    stated = {
        "depth-band": {"least": read_length("15 m"), "greatest": read_length("30 m")},
        "clearance": {"least": read_length("60 ft")},
        "relief": {"greatest": read_length("1.2 m"), "greatest_share": share},
        "capacity": {"greatest_count": counted, "greatest_mass": mass},
        "module-type": {"types": words("hump-90, ridge-140")},
        "position-quality": {"greatest": read_length("0.5 m")},
        "season": {"closed": words("12-01 to 02-28")},
        "offshore-distance": {"least": read_length(f"{site.limits.least_offshore_m:.0f} m")},
        "stability": {
            "least_sliding_factor": number(site.limits.least_sliding_factor, "ratio", "as planted"),
            "least_overturning_factor": number(1.2, "ratio", "1.2"),
            "wave_height": read_length("2 m"),
            "wave_period": number(8.0, "time", "8 s"),
            "water_density": number(1025.0, "density", "1025 kg/m3"),
            "drag_coefficient": number(1.0, "ratio", "1.0"),
            "inertia_coefficient": number(1.6, "ratio", "1.6"),
            "lift_coefficient": number(0.3, "ratio", "0.3"),
            "friction_coefficient": number(0.45, "ratio", "0.45"),
            "force_height": read_length("0.5 m"),
            "edge_distance": read_length("0.5 m"),
        },
    }
    if site.plan is not None:
        stated["target-offset"] = {"greatest": read_length("10 m")}
    return tuple(
        Condition(rule=rule, cite=str(cite), limits=limits)
        for cite, (rule, limits) in enumerate(stated.items(), start=3)
    )


def _targets(site: Site, tags: list[str]) -> Iterator[Draft]:
    """Give the entries of the plan of one site: one place for each tag."""
    if site.plan is None:
        return
    for row, (tag, (lon, lat)) in enumerate(zip(tags, site.plan.tolist(), strict=True)):
        if site.tag_of[row] == row:
            target = Target(
                target_id=f"T-{tag}",
                permit=_number(site),
                tag=tag,
                lon_deg=lon,
                lat_deg=lat,
                frame=FRAME,
                epoch=EPOCH,
                written=f"{lat:.8f}, {lon:.8f}",
                operation=UNCHANGED,
            )
            yield Draft(kind="target.added", actor=ACTOR, body=target_body(target))


def _baseline(sea: int) -> Draft:
    baseline = Baseline(
        baseline_id=f"shore-{sea}",
        name=f"shore-{sea}",
        shape=shore_of(sea),
        frame=FRAME,
        epoch=EPOCH,
        written="made for measuring",
        operation=UNCHANGED,
    )
    return Draft(kind="baseline.added", actor=ACTOR, body=baseline_body(baseline))


def _keep_out(site: Site, found: KeepOutShape) -> Draft:
    keep_out = KeepOut(
        keep_out_id=f"K-{site.number:05d}",
        kind=found.kind,
        name=f"K-{site.number:05d}",
        setback_m=found.setback_m,
        shape=found.shape,
        frame=FRAME,
        epoch=EPOCH,
        written="made for measuring",
        operation=UNCHANGED,
    )
    return Draft(kind="keepout.added", actor=ACTOR, body=keep_out_body(keep_out))


if __name__ == "__main__":
    main()
