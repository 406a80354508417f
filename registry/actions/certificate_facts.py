"""What a certificate says, gathered from the registry: read once for all certificates of one run."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from functools import cached_property
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from registry.actions.gather_cases import Surroundings, gather
from registry.actions.last_known import last_known
from registry.actions.publish_site import WGS84, nearest_area, to_wgs84
from registry.actions.standing_place import StandingPlace, resurveys_by_tag, standing_place
from registry.measure.boundary import signed_distance
from registry.measure.datum import decimal_year, resolve, transform
from registry.measure.decision import Verdict
from registry.measure.edges import densify
from registry.measure.frames import plate_of
from registry.measure.plate_motion import drift
from registry.ports import Register
from registry.records.certificate import DRIFT_YEARS, Certificate, Plan
from registry.records.module import Module
from registry.records.permit import Area, Permit
from registry.records.placement import Placement, PlacementTable
from registry.records.resurvey import Resurvey
from registry.rules.catalogue import judge

__all__ = ["CertificateFacts"]

#: Modules drawn on the small chart around the one remembered: at least those so near. Units: m.
PLAN_REACH_M = 5_000.0
EDGE_STEP_M = 2_000.0
#: Less than any radius of curvature of the meridian, so that a step in degrees reaches far enough. Units: m.
_LEAST_RADIUS_M = 6_330_000.0
#: Decimals of a degree to which the dots of the chart are kept: 0.1 m, far finer than they are drawn.
_DOT_DECIMALS = 6


class CertificateFacts:
    """
    What the certificates of one run rest on.

    Parameters
    ----------
    register : Register
        Read from. Where another writes to it meanwhile, :meth:`renew` reads anew.
    """

    def __init__(self, register: Register) -> None:
        self._register = register
        self._read()

    def _read(self) -> None:
        register = self._register
        with register.reading():
            #: Digest of the journal's head that all this is of.
            self.head = register.head()
            self.programme = register.programme()
            self.zone = ZoneInfo(self.programme.zone)
            self.standing = register.placements()
            self.resurveys: dict[str, list[tuple[str, Resurvey]]] = resurveys_by_tag(register)
            bearers = {(each.number, each.tag) for each in register.certificate_versions()}
            numbers = Counter(number for number, _ in bearers)
            #: How many numbers were given so far, and those that two machines gave to two modules.
            self.numbers = len(numbers)
            self.shared = {number for number, count in numbers.items() if count > 1}
        self._found: dict[str, tuple[str, ...]] = {}
        self._outlines: dict[tuple[str, str, str, float], tuple[tuple[tuple[float, float], ...], ...]] = {}
        self._dots: tuple[float, NDArray[np.float64]] | None = None
        self.__dict__.pop("surroundings", None)

    @cached_property
    def surroundings(self) -> Surroundings:
        """Every standing placement where it was last found, ordered for the questions of the rules."""
        return Surroundings(*last_known(self._register, self.standing))

    def renew(self) -> None:
        """Read anew where something was written since that is not told by :meth:`wrote`."""
        if self._register.head() != self.head:
            self._read()

    def wrote(self, head: str, *, new_number: bool) -> None:
        """Take note of a certificate written by this run: it changes nothing that others rest on."""
        self.head = head
        self.numbers += new_number

    def place(self, tag: str) -> StandingPlace:
        """Tell where a module lies now; errors as of :func:`standing_place`."""
        return standing_place(self._register, tag, self.resurveys)

    def only_placements(self, tags: Sequence[str]) -> list[str]:
        """Give the placements of those tags that are recorded in one place."""
        wanted, found = set(tags), dict[str, list[str]]()
        for tag, placement_id in zip(
            map(str, self.standing.tag), map(str, self.standing.placement_id), strict=True
        ):
            if tag in wanted:
                found.setdefault(tag, []).append(placement_id)
        return [ids[0] for ids in found.values() if len(ids) == 1]

    def permit_of(self, placement: Placement) -> Permit:
        """Give the permit in force on the day of the placement: a later amendment changes no paper."""
        return self._register.permit(placement.permit, on=placement.placed_at.astimezone(self.zone).date())

    def judge(self, placement_ids: Sequence[str]) -> None:
        """Judge placements together by the conditions of their day, ahead of :meth:`nonconforming`."""
        wanted = set(placement_ids) - set(self._found)
        rows_of: dict[tuple[str, object], list[int]] = {}
        permits: dict[tuple[str, object], Permit] = {}
        for row in self._rows(wanted):
            day = datetime.fromtimestamp(float(self.standing.placed_at_s[row]), self.zone).date()
            permit = self._register.permit(str(self.standing.permit[row]), on=day)
            key = (permit.number, permit.begins_on)
            permits[key] = permit
            rows_of.setdefault(key, []).append(row)
        asked = [(permits[key], rows) for key, rows in rows_of.items()]
        if not asked:
            return
        for (_, rows), findings in zip(
            asked, judge(gather(self._register, self.surroundings, asked)), strict=True
        ):
            for index, row in enumerate(rows):
                self._found[str(self.standing.placement_id[row])] = tuple(
                    each.message[index] for each in findings if each.verdict[index] == Verdict.NONCONFORMING
                )

    def _rows(self, placement_ids: set[str]) -> list[int]:
        if len(placement_ids) == 1:
            (only,) = placement_ids
            return [int(row) for row in np.flatnonzero(self.standing.placement_id == only)]
        return [row for row, each in enumerate(self.standing.placement_id.tolist()) if each in placement_ids]

    def nonconforming(self, placement_id: str) -> tuple[str, ...]:
        """Say which conditions a placement does not meet as the registry stands now."""
        if placement_id not in self._found:
            self.judge([placement_id])
        return self._found.get(placement_id, ())

    def certificate(
        self,
        module: Module,
        placement: Placement,
        place: StandingPlace,
        *,
        number: str,
        version: int,
        now: datetime,
    ) -> Certificate:
        """
        State what is known of a module.

        Where a resurvey found it moved, the position is that of the resurvey; the depth was measured where it
        was set down and is left out.
        """
        permit = self.permit_of(placement)
        home = place.home.position
        own = self.standing.rows(np.array(self._rows({place.placement_id}), dtype=np.intp))
        own = replace(own, lon_deg=np.array([home.lon_deg]), lat_deg=np.array([home.lat_deg]))
        reef = nearest_area(own, [permit])[0]
        area = next(area for area in permit.areas if area.area_id == reef)
        inside_m = float(signed_distance(own.lon_deg, own.lat_deg, area.shape, area.edges).distance_m[0])
        epoch = round(decimal_year(now), 1)
        source = self.programme.frame
        out = transform(home.lon_deg, home.lat_deg, source=source, target=WGS84, epoch=epoch, anywhere=True)
        frame = resolve(source)
        plate = plate_of(frame.frame, home.lon_deg, home.lat_deg) if frame.frame else None
        drift_m, azimuth_deg = (0.0, 0.0)
        if plate is not None:
            moved_m, toward_deg = drift(home.lon_deg, home.lat_deg, plate=plate, years=float(DRIFT_YEARS))
            drift_m, azimuth_deg = float(moved_m), float(toward_deg)
        return Certificate(
            number=number,
            version=version,
            programme=self.programme.name,
            memorial_name=module.memorial.name if module.memorial else "",
            language=module.memorial.language if module.memorial else None,
            tag=module.tag,
            module_type=module.type_id,
            reef=reef,
            outside_m=max(0.0, -inside_m),
            permit=permit.number,
            placed_on=placement.placed_at.astimezone(self.zone).date(),
            lat_deg=float(out.lat_deg),
            lon_deg=_wrapped(float(out.lon_deg)),
            epoch=epoch,
            home_lat_deg=home.lat_deg,
            home_lon_deg=home.lon_deg,
            home_frame_name=frame.name,
            home_epoch=self.programme.frame_epoch,
            r95_m=home.r95_m,
            charted_depth_m=placement.charted_depth_m if place.moved is None else None,
            depth_u95_m=placement.depth_u95_m if place.moved is None else None,
            chart_datum=permit.chart_datum,
            issued_on=now.astimezone(self.zone).date(),
            journal_head=self.head,
            drift_m=drift_m,
            drift_azimuth_deg=azimuth_deg,
            found_on=place.observed_at.astimezone(self.zone).date() if place.moved is not None else None,
            plan=self._plan(permit, area, own, epoch),
        )

    def _plan(self, permit: Permit, area: Area, own: PlacementTable, epoch: float) -> Plan:
        """Draw the area and every other module near, without names."""
        key = (permit.number, permit.begins_on.isoformat(), area.area_id, epoch)
        if key not in self._outlines:
            self._outlines[key] = _outline(area, self.programme.frame, epoch)
        near = self._near(float(own.lon_deg[0]), float(own.lat_deg[0]))
        near &= self.standing.placement_id != own.placement_id[0]
        dots = self._dots_at(epoch)[near]
        return Plan(rings=self._outlines[key], others=tuple(map(tuple, dots.tolist())))

    def _near(self, lon_deg: float, lat_deg: float) -> NDArray[np.bool_]:
        """Tell which placements lie within at least the reach of the chart; some beyond it are among them."""
        reach_deg = float(np.degrees(PLAN_REACH_M / _LEAST_RADIUS_M))
        width = np.cos(np.radians(min(abs(lat_deg) + reach_deg, 90.0)))
        east_deg = np.abs((self.standing.lon_deg - lon_deg + 180.0) % 360.0 - 180.0)
        north_deg = np.abs(self.standing.lat_deg - lat_deg)
        return np.asarray((north_deg <= reach_deg) & (east_deg * width <= reach_deg))

    def _dots_at(self, epoch: float) -> NDArray[np.float64]:
        """Give every placement as longitude and latitude for the chart, shape (n, 2); units: degrees."""
        if self._dots is None or self._dots[0] != epoch:
            out = transform(
                self.standing.lon_deg,
                self.standing.lat_deg,
                source=self.programme.frame,
                target=WGS84,
                epoch=epoch,
                anywhere=True,
            )
            dots = np.column_stack([out.lon_deg, out.lat_deg]).astype(np.float64)
            self._dots = epoch, np.round(dots, _DOT_DECIMALS)
        return self._dots[1]


def _outline(area: Area, frame: str, epoch: float) -> tuple[tuple[tuple[float, float], ...], ...]:
    outline = to_wgs84(densify(area.shape, area.edges, EDGE_STEP_M), frame, epoch)
    parts = outline.geoms if isinstance(outline, MultiPolygon) else [outline]
    rings = [ring for part in parts if isinstance(part, Polygon) for ring in (part.exterior, *part.interiors)]
    return tuple(tuple((float(lon), float(lat)) for lon, lat, *_ in ring.coords) for ring in rings)


def _wrapped(lon_deg: float) -> float:
    return (lon_deg + 180.0) % 360.0 - 180.0
