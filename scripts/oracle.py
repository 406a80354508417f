"""
Judge modules again, slowly and in another way, and compare: none missed, none invented, how far off at most.

``python scripts/oracle.py ARCHIVE.gpkg [--sample 300] [--seed 1]``. A random sample and everything planted.
Each distance is solved by itself: every edge of an area is a geodesic that is walked in steps and then more
finely where it is nearest; a module is inside where the azimuths to the corners turn once around it. Nothing
here comes from the code that is held against it; only the file is shared, read by plain SQL.
"""

import argparse
import csv
import json
import math
import sqlite3
import struct
import sys
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from make_archive import read_planted
from pyproj import Geod

from registry import open_registry

GEOD = Geod(ellps="GRS80")
NOT_APPLICABLE, CONFORMING, INCONCLUSIVE, NONCONFORMING = range(4)
#: The first steps along an edge (units: m), no more than so many, and how often they are made finer, and by
#: how much.
STEP_M, MOST_STEPS, ROUNDS, FINER = 1.0, 400, 5, 20
#: How far neighbours are sought at first. Units: m.
REACH_M = 60.0
#: Farther than this nothing is. Units: m.
EARTH_M = 21_000_000.0
#: Numbers that unit conversion may leave apart. Units: m.
ARITHMETIC = 1e-9
#: Rules of which the distances are compared, too.
MEASURED = ("inside-area", "spacing", "keep-out", "offshore-distance", "target-offset")
#: Standard gravity (m/s2), and into how many steps a wave is cut.
GRAVITY, WAVE_STEPS = 9.80665, 20_001


@dataclass(frozen=True, slots=True)
class Answer:
    """What is known of one module under one rule; the value is that which decides, NaN where none does."""

    verdict: int
    value: float


@dataclass(slots=True)
class Comparison:
    """How two audits differ on the modules that were asked."""

    modules: int = 0
    answers: int = 0
    #: Nonconforming to the oracle alone, and to the other alone; and every other difference.
    missed: list[str] = field(default_factory=list)
    invented: list[str] = field(default_factory=list)
    otherwise: list[str] = field(default_factory=list)
    #: Largest difference of what was measured, by rule. Units: m.
    error: dict[str, float] = field(default_factory=dict)
    #: The same of the distances of another audit, where they were given.
    other_error: dict[str, float] = field(default_factory=dict)
    #: Verdicts that were planted in the whole archive, and how Leadline's differ from them.
    planted: int = 0
    unlike_planted: list[str] = field(default_factory=list)

    @property
    def differences(self) -> list[str]:
        """Every module and rule of which the two think differently."""
        return [*self.missed, *self.invented, *self.otherwise, *self.unlike_planted]


def main() -> None:
    """Read the command line, compare, and fail where the two audits differ."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("archive", type=Path)
    parser.add_argument("--sample", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--against", type=Path, metavar="CSV", help="Distances of another audit, by tag.")
    parser.add_argument("--json", action="store_true", help="Print everything as JSON.")
    asked = parser.parse_args()
    found = compare(asked.archive, sample=asked.sample, seed=asked.seed, against=asked.against)
    print(json.dumps(asdict(found)) if asked.json else "\n".join(told(found)))
    sys.exit(1 if found.differences else 0)


def told(found: Comparison) -> list[str]:
    """Give what a comparison showed as sentences."""
    lines = [
        f"{found.modules:,} modules judged again ({found.answers:,} answers): {len(found.missed)} missed,"
        f" {len(found.invented)} invented, {len(found.otherwise)} otherwise different."
    ]
    lines.append(f"{found.planted:,} verdicts planted; {len(found.unlike_planted)} of Leadline's differ.")
    names = {"inside-area": "distance to the boundary", "spacing": "distance to the neighbour"}
    lines += [f"Largest error of the {names.get(rule, rule)}: {m:.1e} m." for rule, m in found.error.items()]
    return [*lines, *found.differences[:10]]


def compare(archive: Path, *, sample: int, seed: int, against: Path | None = None) -> Comparison:
    """Judge a random sample and all that was planted, and hold Leadline's audit against it."""
    planted = read_planted(archive)
    by_verdict = {NONCONFORMING: planted.nonconforming, INCONCLUSIVE: planted.inconclusive}
    named = {tag for by_rule in by_verdict.values() for tags in by_rule.values() for tag in tags}
    with open_registry(archive) as reef:
        permits = reef.audit().permits
    oracle = Oracle(archive)
    chance = np.random.default_rng(seed).choice(len(oracle), min(sample, len(oracle)), replace=False)
    rows = sorted({*chance.tolist(), *(row for row in range(len(oracle)) if oracle.tag[row] in named)})
    theirs = leadline_answers(permits, {oracle.placement_id[row] for row in rows})
    result = Comparison(modules=len(rows))
    for verdict, by_rule in by_verdict.items():
        _compare_planted(result, by_rule, leadline_tags(permits, verdict), verdict)
    others = _distances(against, {oracle.tag[row] for row in rows}) if against else {}
    for row in rows:
        other = theirs[oracle.placement_id[row]]
        answers = oracle.answers(row)
        if oracle.tag[row] in others:
            inside_m, nearest_m = others[oracle.tag[row]]
            _widen(result.other_error, "inside-area", inside_m - answers["inside-area"].value)
            _widen(result.other_error, "spacing", nearest_m - oracle.nearest_m(row))
        for rule, mine in answers.items():
            if rule not in other:
                result.otherwise.append(f"{oracle.tag[row]}: {rule} was not asked.")
                continue
            result.answers += 1
            _note(result, f"{oracle.tag[row]} {rule}", rule, mine, other[rule])
    return result


def _compare_planted(
    result: Comparison, planted: dict[str, list[str]], found: dict[str, set[str]], verdict: int
) -> None:
    for rule in sorted({*planted, *found}):
        mine, other = set(planted.get(rule, ())), found.get(rule, set())
        result.planted += len(mine)
        result.unlike_planted += [
            f"{tag}: {rule} {verdict} planted, not found." for tag in sorted(mine - other)
        ]
        result.unlike_planted += [
            f"{tag}: {rule} {verdict} found, not planted." for tag in sorted(other - mine)
        ]


def _note(result: Comparison, name: str, rule: str, mine: Answer, other: Answer) -> None:
    if mine.verdict != other.verdict:
        line = (
            f"{name}: {mine.verdict} by the oracle ({mine.value:.9g}), {other.verdict} ({other.value:.9g})."
        )
        if NONCONFORMING not in (mine.verdict, other.verdict):
            result.otherwise.append(line)
        elif mine.verdict == NONCONFORMING:
            result.missed.append(line)
        else:
            result.invented.append(line)
    elif rule in MEASURED and not math.isnan(mine.value):
        _widen(result.error, rule, mine.value - other.value)


def _widen(error: dict[str, float], rule: str, difference_m: float) -> None:
    error[rule] = max(error.get(rule, 0.0), abs(float(difference_m)))


def _distances(file: Path, wanted: set[str]) -> dict[str, tuple[float, float]]:
    """Read how far inside and how far from the nearest another audit says that some modules are, by tag."""
    with file.open(encoding="utf-8", newline="") as lines:
        return {
            row["tag"]: (float(row["inside_m"]), float(row["nearest_m"]))
            for row in csv.DictReader(lines)
            if row["tag"] in wanted
        }


def leadline_tags(permits: Iterable[Any], verdict: int) -> dict[str, set[str]]:
    """Give the tags to which Leadline gives a verdict, by rule."""
    tags: dict[str, set[str]] = defaultdict(set)
    for permit in permits:
        for found in permit.findings:
            tags[found.rule].update(permit.placements.tag[found.verdict == verdict].tolist())
    return tags


def leadline_answers(permits: Iterable[Any], wanted: set[str]) -> dict[str, dict[str, Answer]]:
    """Give what Leadline says of some placements, by identifier and rule: the worse of two limits."""
    answers: dict[str, dict[str, Answer]] = {}
    for permit in permits:
        for row, placement_id in enumerate(permit.placements.placement_id.tolist()):
            if placement_id not in wanted:
                continue
            kept = answers.setdefault(placement_id, {})
            for found in permit.findings:
                answer = Answer(int(found.verdict[row]), float(found.measured[row]))
                if found.rule not in kept or answer.verdict > kept[found.rule].verdict:
                    kept[found.rule] = answer
    return answers


class Oracle:
    """One archive, judged module by module."""

    def __init__(self, archive: Path) -> None:
        database = sqlite3.connect(f"{archive.absolute().as_uri()}?mode=ro", uri=True)
        rows = database.execute(
            "SELECT p.placement_id, p.tag, p.permit, p.module_type, ifnull(m.memorial, ''), p.lon_deg,"
            " p.lat_deg, p.r95_m, p.charted_depth_m, p.depth_u95_m, p.placed_at, t.base_radius_m, t.height_m,"
            " t.height_u95_m, ifnull(m.mass_kg, t.mass_kg)"
            " FROM placements p LEFT JOIN modules m ON m.tag = p.tag"
            " LEFT JOIN module_types t ON t.type_id = m.type_id ORDER BY p.placed_at, p.placement_id"
        ).fetchall()
        columns = list(zip(*rows, strict=True))
        self.placement_id, self.tag, self.permit, self.type_id, self.memorial = columns[:5]
        self.lon, self.lat, self.r95, self.depth, self.depth_u95 = (
            np.array(c, dtype=float) for c in columns[5:10]
        )
        self.day = [text[:10] for text in columns[10]]
        self.radius, self.height, self.height_u95, self.mass = (
            np.array(c, dtype=float) for c in columns[11:15]
        )
        self.areas: dict[str, list[Ring]] = defaultdict(list)
        for number, blob in database.execute("SELECT permit, geom FROM permit_areas"):
            self.areas[number] += rings_of(geometry_of(blob))
        self.conditions: dict[str, list[tuple[str, dict[str, Any]]]] = defaultdict(list)
        for number, rule, limits in database.execute("SELECT permit, rule, limits FROM conditions"):
            self.conditions[number].append((rule, json.loads(limits)))
        self.valid = {
            row[0]: row[1:] for row in database.execute("SELECT number, valid_from, valid_to FROM permits")
        }
        self.keep_outs = [
            (geometry_of(blob), setback_m)
            for blob, setback_m in database.execute("SELECT geom, setback_m FROM keep_outs")
        ]
        self.targets = {
            (number, tag): (lon, lat)
            for number, tag, lon, lat in database.execute("SELECT permit, tag, lon_deg, lat_deg FROM targets")
        }
        self.shores = [
            Ring(geometry_of(blob).coords) for (blob,) in database.execute("SELECT geom FROM baselines")
        ]
        #: Mass in air and submerged, area from the side and in plan, by type. Units: kg, m2.
        self.bodies = {
            row[0]: row[1:]
            for row in database.execute(
                "SELECT type_id, mass_kg, submerged_mass_kg, side_area_m2, plan_area_m2 FROM module_types"
            )
        }
        database.close()
        #: Longitude, latitude, reach and setback of each keep-out.
        self.middles = np.array([(*middle_of(shape), setback_m) for shape, setback_m in self.keep_outs])
        self.by_lat = np.argsort(self.lat)
        self.sorted_lat = self.lat[self.by_lat]
        self.tags, self.memorials = Counter(self.tag), Counter(self.memorial)
        self.of_permit: dict[str, list[int]] = defaultdict(list)
        for row, number in enumerate(self.permit):
            self.of_permit[number].append(row)

    def __len__(self) -> int:
        """Give the number of placements."""
        return len(self.tag)

    def answers(self, row: int) -> dict[str, Answer]:
        """Judge one module by every rule that its permit states, or that is always asked."""
        stated = dict(self.conditions[self.permit[row]])
        asked = {"inside-area": {}, "keep-out": {}, "validity": {}, "duplicate": {}} | stated
        return {rule: _ASKED[rule](self, row, limits) for rule, limits in asked.items()}

    def inside_area(self, row: int, limits: dict[str, Any]) -> Answer:
        """Walk along the boundary."""
        here = self.lon[row], self.lat[row]
        rings = self.areas[self.permit[row]]
        depth = min(ring.distance_m(*here) for ring in rings)
        inside = sum(ring.turns_around(*here) for ring in rings) % 2
        value = depth if inside else -depth
        return least(value, self.r95[row], _value(limits, "setback"))

    def spacing(self, row: int, limits: dict[str, Any]) -> Answer:
        """Measure to every neighbour, one after the other."""
        asked = _value(limits, "least")
        pairs = self._around(row)
        if not pairs:
            return Answer(NOT_APPLICABLE, math.nan)
        judged = []
        for other, distance_m in pairs:
            edge_m = distance_m - self.radius[row] - self.radius[other]
            judged.append((least(edge_m, math.hypot(self.r95[row], self.r95[other]), asked), distance_m))
        worst = max(answer.verdict for answer, _ in judged)
        if worst > CONFORMING:
            return min((answer for answer, _ in judged if answer.verdict == worst), key=lambda a: a.value)
        return min(judged, key=lambda pair: pair[1])[0]

    def nearest_m(self, row: int) -> float:
        """Give the distance to the nearest of all."""
        return min(distance_m for _, distance_m in self._around(row))

    def _around(self, row: int) -> list[tuple[int, float]]:
        """Look for neighbours ever farther until there is one."""
        reach_m = REACH_M
        while reach_m < EARTH_M:
            pairs = self._neighbours(row, reach_m)
            if pairs:
                return pairs
            reach_m *= 4.0
        return []

    def _neighbours(self, row: int, reach_m: float) -> list[tuple[int, float]]:
        """Give every module of another tag within reach, each distance solved by itself."""
        lon, lat = self.lon[row], self.lat[row]
        # No degree of latitude is shorter than 110.5 km, none of longitude than that times the cosine.
        high = reach_m / 110_500.0
        first, last = np.searchsorted(self.sorted_lat, [lat - high, lat + high])
        band = self.by_lat[first:last]
        wide = high / max(math.cos(math.radians(min(abs(lat) + high, 90.0))), 1e-9)
        band = band[np.abs((self.lon[band] - lon + 180.0) % 360.0 - 180.0) <= wide]
        pairs = []
        for other in band.tolist():
            if other != row and self.tag[other] != self.tag[row]:
                distance_m = GEOD.inv(lon, lat, self.lon[other], self.lat[other])[2]
                if distance_m <= reach_m:
                    pairs.append((other, distance_m))
        return pairs

    def keep_out(self, row: int, _limits: dict[str, Any]) -> Answer:
        """Measure to everything near."""
        if not self.keep_outs:
            return Answer(NOT_APPLICABLE, math.nan)
        lon, lat = self.lon[row], self.lat[row]
        count = len(self.keep_outs)
        to_middle = GEOD.inv(np.full(count, lon), np.full(count, lat), *self.middles.T[:2])[2]
        # No part of a thing is nearer than its middle less its reach.
        never_less = np.asarray(to_middle) - self.middles[:, 2] - self.middles[:, 3] - self.radius[row]
        found, tightest = Answer(CONFORMING, math.nan), math.inf
        for index in np.argsort(never_less):
            if never_less[index] > tightest:
                break
            shape, setback_m = self.keep_outs[index]
            away_m = distance_to_shape(lon, lat, shape) - self.radius[row]
            answer = least(away_m, self.r95[row], setback_m)
            value = away_m if away_m - setback_m < tightest else found.value
            tightest = min(tightest, away_m - setback_m)
            found = Answer(max(found.verdict, answer.verdict), value)
        return found

    def depth_band(self, row: int, limits: dict[str, Any]) -> Answer:
        """Both ends of the band."""
        depth, u95 = self.depth[row], self.depth_u95[row]
        ends = (least(depth, u95, _value(limits, "least")), most(depth, u95, _value(limits, "greatest")))
        return max(ends, key=lambda answer: answer.verdict)

    def clearance(self, row: int, limits: dict[str, Any]) -> Answer:
        """Water over the top."""
        u95 = math.hypot(self.depth_u95[row], self.height_u95[row])
        return least(self.depth[row] - self.height[row], u95, _value(limits, "least"))

    def relief(self, row: int, limits: dict[str, Any]) -> Answer:
        """Height, and its share of the water."""
        height, share = self.height[row], _value(limits, "greatest_share")
        by_height = most(height, self.height_u95[row], _value(limits, "greatest"))
        u95 = math.hypot(self.height_u95[row], share * self.depth_u95[row])
        by_share = most(height, u95, share * self.depth[row])
        return max(by_height, by_share, key=lambda answer: answer.verdict)

    def capacity(self, row: int, limits: dict[str, Any]) -> Answer:
        """Count and weigh all that lay there once this module did."""
        rows = self.of_permit[self.permit[row]]
        so_far = rows[: rows.index(row) + 1]
        count = most(float(len(so_far)), 0.0, _value(limits, "greatest_count"))
        mass = most(math.fsum(self.mass[so_far].tolist()), 0.0, _value(limits, "greatest_mass"))
        return max(count, mass, key=lambda answer: answer.verdict)

    def validity(self, row: int, _limits: dict[str, Any]) -> Answer:
        """Compare days, which sort as they are written."""
        first, last = self.valid[self.permit[row]]
        return Answer(CONFORMING if first <= self.day[row] <= last else NONCONFORMING, math.nan)

    def module_type(self, row: int, limits: dict[str, Any]) -> Answer:
        """Look it up in the list."""
        allowed = [word.strip() for word in limits["types"]["written"].split(",")]
        return Answer(CONFORMING if self.type_id[row] in allowed else NONCONFORMING, math.nan)

    def duplicate(self, row: int, _limits: dict[str, Any]) -> Answer:
        """Count tag and memorial."""
        memorial = self.memorial[row]
        times = max(self.tags[self.tag[row]], self.memorials[memorial] if memorial else 0)
        return Answer(CONFORMING if times == 1 else NONCONFORMING, float(times))

    def season(self, row: int, limits: dict[str, Any]) -> Answer:
        """Compare months and days, which sort as they are written; the closed season runs over New Year."""
        first, last = limits["closed"]["written"].split(" to ")
        closed = self.day[row][5:] >= first or self.day[row][5:] <= last
        return Answer(NONCONFORMING if closed else CONFORMING, math.nan)

    def offshore_distance(self, row: int, limits: dict[str, Any]) -> Answer:
        """Walk along every shore that may be the nearest."""
        here = self.lon[row], self.lat[row]
        reach = [float(shore._corners(*here)[1].min() - shore.length.sum()) for shore in self.shores]
        away_m = math.inf
        for index in np.argsort(reach):
            if reach[index] > away_m:
                break
            away_m = min(away_m, self.shores[index].distance_m(*here))
        return least(away_m, self.r95[row], _value(limits, "least"))

    def target_offset(self, row: int, limits: dict[str, Any]) -> Answer:
        """Measure to the place that the plan has for the tag."""
        target = self.targets[self.permit[row], self.tag[row]]
        off_m = GEOD.inv(self.lon[row], self.lat[row], *target)[2]
        return most(off_m, self.r95[row], _value(limits, "greatest"))

    def stability(self, row: int, limits: dict[str, Any]) -> Answer:
        """Let one wave pass in small steps, at the depth and at both ends of its doubt."""
        worst = Answer(CONFORMING, math.nan)
        u95 = self.depth_u95[row]
        said = tuple((name, _value(limits, name)) for name in limits)
        body = (*self.bodies[self.type_id[row]], self.mass[row])
        found = [factors(said, body, self.depth[row] + doubt) for doubt in (-u95, 0.0, u95)]
        for index, name in enumerate(("least_sliding_factor", "least_overturning_factor")):
            at = [factor[index] for factor in found]
            # Judged by both ends of the doubt, whichever of them is the calmer.
            asked = _value(limits, name)
            verdict = CONFORMING if min(at) >= asked else NONCONFORMING if max(at) < asked else INCONCLUSIVE
            if verdict > worst.verdict or math.isnan(worst.value):
                worst = Answer(verdict, at[1])
        return worst

    def position_quality(self, row: int, limits: dict[str, Any]) -> Answer:
        """Compare the radius as it stands."""
        return most(self.r95[row], 0.0, _value(limits, "greatest"))


_ASKED: dict[str, Callable[[Oracle, int, dict[str, Any]], Answer]] = {
    "inside-area": Oracle.inside_area,
    "keep-out": Oracle.keep_out,
    "spacing": Oracle.spacing,
    "offshore-distance": Oracle.offshore_distance,
    "target-offset": Oracle.target_offset,
    "depth-band": Oracle.depth_band,
    "clearance": Oracle.clearance,
    "relief": Oracle.relief,
    "capacity": Oracle.capacity,
    "stability": Oracle.stability,
    "validity": Oracle.validity,
    "season": Oracle.season,
    "module-type": Oracle.module_type,
    "duplicate": Oracle.duplicate,
    "position-quality": Oracle.position_quality,
}


def _value(limits: dict[str, Any], name: str) -> float:
    return float(limits[name]["value"]) if name in limits else math.nan


def least(value: float, u95: float, limit: float) -> Answer:
    """Judge against a least value, guarded by the uncertainty on either side; no limit, no objection."""
    if math.isnan(limit):
        return Answer(CONFORMING, float(value))
    if value + u95 < limit - ARITHMETIC:
        return Answer(NONCONFORMING, float(value))
    return Answer(CONFORMING if value - u95 >= limit - ARITHMETIC else INCONCLUSIVE, float(value))


def most(value: float, u95: float, limit: float) -> Answer:
    """Judge against a greatest value."""
    if math.isnan(limit):
        return Answer(CONFORMING, float(value))
    return Answer(least(-value, u95, -limit).verdict, float(value))


@cache
def factors(
    stated: tuple[tuple[str, float], ...], body: tuple[float, ...], depth_m: float
) -> tuple[float, float]:
    """Give the least factor against sliding and against overturning over one wave."""
    said = dict(stated)
    height, period, density = said["wave_height"], said["wave_period"], said["water_density"]
    low, high = 1e-6, 10.0
    for _ in range(200):
        number = (low + high) / 2.0
        above = GRAVITY * number * math.tanh(number * depth_m) > (2.0 * math.pi / period) ** 2
        low, high = (low, number) if above else (number, high)
    speed = math.pi * height / (period * math.sinh(low * depth_m))
    phase = np.linspace(0.0, 2.0 * math.pi, WAVE_STEPS)
    u, a = speed * np.cos(phase), -speed * 2.0 * math.pi / period * np.sin(phase)
    of_type, submerged, side, plan, mass = body
    displaced = of_type - submerged
    weight = GRAVITY * (mass - displaced)
    push = np.abs(
        density / 2.0 * said["drag_coefficient"] * side * u * np.abs(u)
        + said["inertia_coefficient"] * displaced * a
    )
    lift = density / 2.0 * said["lift_coefficient"] * plan * u**2
    slide = said["friction_coefficient"] * np.maximum(weight - lift, 0.0) / push
    edge = said["edge_distance"]
    turn = weight * edge / (push * said["force_height"] + lift * edge)
    return float(slide.min()), float(turn.min())


def geometry_of(blob: bytes) -> shapely.Geometry:
    """Read a geometry: a header whose length its flags tell, then well-known binary."""
    envelope = (0, 32, 48, 48, 64)[(blob[3] >> 1) & 7]
    assert struct.unpack_from("2s", blob)[0] == b"GP"
    return shapely.from_wkb(blob[8 + envelope :])


class Ring:
    """A closed chain of geodesics."""

    def __init__(self, corners: Iterable[tuple[float, float]]) -> None:
        points = np.array(list(corners))
        self.lon, self.lat = points[:, 0], points[:, 1]
        start = self.lon[:-1], self.lat[:-1]
        self.azimuth, _, self.length = (np.asarray(v) for v in GEOD.inv(*start, self.lon[1:], self.lat[1:]))

    def _corners(self, lon: float, lat: float) -> tuple[np.ndarray, np.ndarray]:
        """Azimuth and distance from a point to every corner."""
        here = np.full(len(self.lon), lon), np.full(len(self.lon), lat)
        azimuth, _, distance = GEOD.inv(*here, self.lon, self.lat)
        return np.asarray(azimuth), np.asarray(distance)

    def distance_m(self, lon: float, lat: float) -> float:
        """Walk along every edge that may be the nearest."""
        _, away = self._corners(lon, lat)
        best = float(away.min())
        # On a triangle no side is longer than the other two: an edge is never nearer than this.
        never_nearer = (away[:-1] + away[1:] - self.length) / 2.0
        for edge in np.argsort(never_nearer):
            if never_nearer[edge] > best:
                break
            best = min(best, self._walk(int(edge), lon, lat))
        return best

    def _walk(self, edge: int, lon: float, lat: float) -> float:
        low, high = 0.0, float(self.length[edge])
        steps = min(max(2, math.ceil((high - low) / STEP_M)), MOST_STEPS) + 1
        for _ in range(ROUNDS):
            along = np.linspace(low, high, steps)
            start = (np.full(steps, v) for v in (self.lon[edge], self.lat[edge], self.azimuth[edge]))
            x, y, _ = GEOD.fwd(*start, along)
            away = np.asarray(GEOD.inv(np.full(steps, lon), np.full(steps, lat), x, y)[2])
            nearest = int(away.argmin())
            low, high = along[max(nearest - 1, 0)], along[min(nearest + 1, steps - 1)]
            steps = 2 * FINER + 1
        return float(away.min())

    def turns_around(self, lon: float, lat: float) -> int:
        """Tell by the azimuths to the corners whether the chain goes around a point: 1 or 0."""
        azimuth, _ = self._corners(lon, lat)
        turned = (np.diff(azimuth) + 180.0) % 360.0 - 180.0
        return abs(round(float(turned.sum()) / 360.0)) % 2


def rings_of(shape: shapely.Geometry) -> list[Ring]:
    """Give every ring of an area."""
    rings = []
    for part in getattr(shape, "geoms", [shape]):
        rings += [Ring(chain.coords) for chain in (part.exterior, *part.interiors)]
    return rings


def middle_of(shape: shapely.Geometry) -> tuple[float, float, float]:
    """Give a point of a shape, and a distance from it that no part of the shape exceeds. Units: m."""
    corners = shapely.get_coordinates(shape)
    lon, lat = corners[0]
    away = GEOD.inv(*(np.full(len(corners), v) for v in (lon, lat)), corners[:, 0], corners[:, 1])[2]
    # An edge may lead a little farther away than both its ends, never twice as far.
    return float(lon), float(lat), 2.0 * float(np.max(away)) + 1.0


def distance_to_shape(lon: float, lat: float, shape: shapely.Geometry) -> float:
    """Measure to a point, a line or a polygon; negative inside a polygon."""
    if isinstance(shape, shapely.Point):
        return float(GEOD.inv(lon, lat, shape.x, shape.y)[2])
    if isinstance(shape, shapely.LineString):
        return Ring(shape.coords).distance_m(lon, lat)
    rings = rings_of(shape)
    away = min(ring.distance_m(lon, lat) for ring in rings)
    return -away if sum(ring.turns_around(lon, lat) for ring in rings) % 2 else away


if __name__ == "__main__":
    main()
