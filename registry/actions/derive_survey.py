"""
Derive one position from what a dive team brought ashore, step by step, without writing anything.

Start at the antenna's fixes, or at known marks; go over the lever arm to the hook; go on through the water to
the module. Each step adds its terms to one budget.
"""

import math
from dataclasses import replace
from datetime import UTC, datetime
from typing import NamedTuple

import numpy as np

from registry.errors import AmbiguousPositionError, NotFoundError, QuantityError
from registry.measure.averaging import METHOD, Average, average_fixes
from registry.measure.budget import Term, budget
from registry.measure.datum import ResolvedFrame, decimal_year, resolve, software_version
from registry.measure.digits import Notation, rounding_r95_m
from registry.measure.geodesic import SitePlane, inverse
from registry.measure.magnetic import Variation, magnetic_variation, true_bearing
from registry.measure.offsets import (
    Displacement,
    acoustic,
    body_to_level,
    descent_drift,
    lever_arm,
    range_and_bearing,
    surface_buoy,
)
from registry.measure.ranges import RangeFix, fixes_from_ranges
from registry.measure.receiver_class import ReceiverClass, receiver_class
from registry.records.derivation import Derivation, Step
from registry.records.fix import QUALITIES, FixTable
from registry.records.position import Position
from registry.records.survey import Bearing, Current, FixedPoint, LeverArm, LoggedFixes, Survey

__all__ = ["derive_survey"]

#: The best class of receiver that a quality of fix allows; best first. Float is never read as fixed.
_BEST_CLASS = {4: "rtk", 5: "float", 2: "dgnss", 9: "sbas", 3: "autonomous", 1: "autonomous"}
#: A direction of which nothing is known. Units: degrees.
_ANY_DIRECTION_DEG = 180.0
_MANY_WILD = 0.2
_NOTATIONS = {"dd": Notation.DEGREES, "ddm": Notation.MINUTES, "dms": Notation.SECONDS}
#: Of a variation read from a chart and brought up to date by hand. Common practice, no source.
_STATED_VARIATION_U95_DEG = 0.5


class _Heading(NamedTuple):
    degrees: float
    u95_deg: float


class _Way:
    """Where the derivation stands."""

    def __init__(self, survey: Survey, frame: ResolvedFrame) -> None:
        self.survey, self.frame = survey, frame
        self.lon = self.lat = math.nan
        self.year = survey.epoch
        self.steps: list[Step] = []
        self.terms: list[Term] = []
        self.warnings: list[str] = []
        self.heading: _Heading | None = None

    def stand(
        self, name: str, sentence: str, lon: float, lat: float, **figures: float | int | str | None
    ) -> None:
        """Come to a point."""
        self.lon, self.lat = lon, lat
        self.steps.append(Step(name=name, sentence=sentence, figures=figures, lat_deg=lat, lon_deg=lon))

    def choose(self, name: str, sentence: str, **figures: float | int | str | None) -> None:
        """Take a choice that leads nowhere yet."""
        self.steps.append(Step(name=name, sentence=sentence, figures=figures))

    def go(self, name: str, sentence: str, step: Displacement, **figures: float | int | str | None) -> None:
        """Go a step on."""
        lon, lat = step.move(self.lon, self.lat)
        self.terms.extend(step.terms)
        aside = f"{step.distance_m:.2f} m toward {round(step.bearing_deg) % 360:03d}° true."
        told = f"{sentence} {aside if step.distance_m >= 0.005 else 'not to any side, but in doubt.'}"
        moved = {"east_m": step.east_m, "north_m": step.north_m, "down_m": step.down_m}
        self.stand(name, told, lon, lat, **figures, **moved)


def derive_survey(survey: Survey, *, least_fixes: int = 1) -> Derivation:
    """
    Derive the position of a module.

    Parameters
    ----------
    survey : Survey
        What was measured. Nothing is read or written.
    least_fixes : int
        Fewer are refused where it starts from fixes.

    Returns
    -------
    Derivation
        In the frame of the survey. Its R95 is never less than that of the receiver's class.

    Raises
    ------
    NotFoundError
        If no fix is left to average, or fewer than the least number.
    AmbiguousPositionError
        If ranges have two answers and nothing tells which.
    FrameError, GeometryError, QuantityError
        If the frame, the geometry of marks, or a figure cannot be used.
    """
    frame = resolve(survey.frame)
    if frame.projected:
        frame = resolve(frame.base)
    way = _Way(survey, frame)
    if survey.logged is not None:
        _start_from_fixes(way, survey.logged, least_fixes)
    elif survey.sighting is not None:
        _start_from_sighting(way)
    else:
        _start_from_ranges(way)
    _go_through_water(way)
    whole = budget(way.terms)
    epoch = way.year if frame.dynamic else frame.epoch
    if frame.dynamic and epoch is None:
        what = f"{frame.name} moves against the seabed, and nothing says when this was measured."
        raise QuantityError(what, remedy="Give the epoch, as --epoch 2026.5.")
    return Derivation(
        position=Position(lat_deg=way.lat, lon_deg=way.lon, frame=frame.code, epoch=epoch, r95_m=whole.r95_m),
        steps=tuple(way.steps),
        budget=whole.rows,
        warnings=tuple(way.warnings),
        account=survey.logged.account if survey.logged is not None else None,
        software=software_version(),
    )


def _start_from_fixes(way: _Way, logged: LoggedFixes, least_fixes: int) -> None:
    if not len(logged.fixes):
        what = f"No usable fix: {logged.window}."
        aside = ", ".join(f"{n} {why}" for why, n in logged.account.set_aside.items()) or "none"
        raise NotFoundError(what, remedy=f"Check the window and the log (fixes set aside: {aside}).")
    if len(logged.fixes) < least_fixes:
        what = f"Only {len(logged.fixes)} usable fixes, where {least_fixes} are asked: {logged.window}."
        raise NotFoundError(what, remedy="Check time and zone of the row and the log, or widen the window.")
    fixes = _one_kind(way, logged)
    lever = way.survey.lever
    if lever is not None and lever.heading_deg is None:
        fixes = _with_heading(way, fixes)
    first, last = float(fixes.time_s[0]), float(fixes.time_s[-1])
    if way.year is None:
        way.year = round(decimal_year(datetime.fromtimestamp((first + last) / 2.0, tz=UTC)), 4)
    receiver = _receiver(way, logged.receiver, fixes)
    plane = SitePlane(_middle_lon(fixes.lon_deg), float(np.median(fixes.lat_deg)))
    east, north = plane.to_plane(fixes.lon_deg, fixes.lat_deg)
    average = average_fixes(
        east,
        north,
        fixes.time_s,
        class_r95_m=receiver.r95_m,
        sigma_east_m=fixes.sigma_east_m,
        sigma_north_m=fixes.sigma_north_m,
    )
    lon, lat = plane.from_plane(average.east_m, average.north_m)
    if lever is None:
        _tell_average(way, average, (float(lon), float(lat)), fixes, receiver)
        return
    # Each fix goes to the hook by its own heading before the average: the vessel swings, the hook does not.
    headings = fixes.heading_deg if lever.heading_deg is None else np.full(len(fixes), lever.heading_deg)
    arm_east, arm_north, _ = body_to_level(
        lever.forward_m,
        lever.starboard_m,
        lever.down_m,
        heading_deg=headings,
        roll_deg=lever.roll_deg or 0.0,
        pitch_deg=lever.pitch_deg or 0.0,
    )
    hook = average_fixes(
        east + arm_east,
        north + arm_north,
        fixes.time_s,
        class_r95_m=receiver.r95_m,
        sigma_east_m=fixes.sigma_east_m,
        sigma_north_m=fixes.sigma_north_m,
    )
    way.stand(
        "antenna", f"Antenna, by the median of {len(fixes)} fixes.", float(lon), float(lat), n=len(fixes)
    )
    hook_lon, hook_lat = plane.from_plane(hook.east_m, hook.north_m)
    _tell_lever(way, lever, headings)
    _tell_average(way, hook, (float(hook_lon), float(hook_lat)), fixes, receiver)


def _one_kind(way: _Way, logged: LoggedFixes) -> FixTable:
    """Keep only the best quality where at least half are of it, as RTK fixed among float; else all."""
    fixes = logged.fixes
    count = {code: int(np.count_nonzero(fixes.quality == code)) for code in _BEST_CLASS}
    told = ", ".join(f"{n} {QUALITIES[code]}" for code, n in count.items() if n)
    best = next(code for code in _BEST_CLASS if count[code])
    figures = {f"quality_{code}": n for code, n in count.items() if n}
    way.choose("window", f"{len(fixes)} fixes: {logged.window}.", n=len(fixes))
    if count[best] == len(fixes):
        way.choose("quality", f"All are of one quality: {told}.", **figures)
        return fixes
    if 2 * count[best] >= len(fixes):
        sentence = f"{told}; only the best are kept, {count[best]} {QUALITIES[best]}."
        way.choose("quality", sentence, **figures)
        return fixes.rows(fixes.quality == best)
    way.choose("quality", f"{told}; all are kept, and the worst decides the class.", **figures)
    way.warnings.append(f"Fixes of several qualities were averaged ({told}).")
    return fixes


def _with_heading(way: _Way, fixes: FixTable) -> FixTable:
    known = np.isfinite(fixes.heading_deg)
    if not known.any():
        what = "The log holds no heading (HDT) for these fixes, and none was stated."
        raise QuantityError(what, remedy="Give the true heading; course over ground is no heading.")
    way.choose(
        "heading",
        f"{int(known.sum())} of {len(fixes)} fixes have a heading of their own (HDT); only they are used.",
        with_heading=int(known.sum()),
        without_heading=int((~known).sum()),
    )
    return fixes.rows(known)


def _receiver(way: _Way, name: str, fixes: FixTable) -> ReceiverClass:
    """Give the class that was stated, or that of the worst quality used, whichever is worse."""
    stated = receiver_class(name)
    shown = max(
        (receiver_class(_BEST_CLASS[int(q)]) for q in np.unique(fixes.quality)), key=lambda c: c.r95_m
    )
    if shown.r95_m <= stated.r95_m:
        sentence = f"Receiver of class {stated.name}: {stated.r95_m:g} m (95 %). Source: {stated.source}."
        way.choose("receiver", sentence, class_r95_m=stated.r95_m)
        return stated
    sentence = (
        f"Receiver of class {stated.name} was stated, but the quality of the fixes allows no better than"
        f" {shown.name}: {shown.r95_m:g} m (95 %). Source: {shown.source}."
    )
    way.choose("receiver", sentence, class_r95_m=shown.r95_m)
    way.warnings.append(
        f"The fixes are of no better quality than {shown.name}, though {stated.name} was stated."
    )
    return shown


def _tell_lever(way: _Way, lever: LeverArm, headings: np.ndarray) -> None:
    noted = lever.roll_deg is not None and lever.pitch_deg is not None
    azimuth = np.radians(headings)
    mean = math.degrees(math.atan2(float(np.sin(azimuth).mean()), float(np.cos(azimuth).mean()))) % 360.0
    step = lever_arm(
        lever.forward_m,
        lever.starboard_m,
        lever.down_m,
        heading_deg=mean,
        roll_deg=lever.roll_deg or 0.0,
        pitch_deg=lever.pitch_deg or 0.0,
        arm_u95_m=lever.arm_u95_m,
        heading_u95_deg=lever.heading_u95_deg,
        attitude_u95_deg=lever.attitude_u95_deg if noted else lever.unnoted_attitude_u95_deg,
    )
    by = "as stated" if lever.heading_deg is not None else "each fix by its own (HDT)"
    attitude = f"roll {lever.roll_deg or 0:g}°, pitch {lever.pitch_deg or 0:g}°"
    if not noted:
        attitude += f", not both noted: ± {lever.unnoted_attitude_u95_deg:g}°"
    way.heading = _Heading(mean, lever.heading_u95_deg)
    way.go(
        "lever arm",
        f"Antenna to hook: {lever.forward_m:g} m forward, {lever.starboard_m:g} m to starboard,"
        f" {lever.down_m:g} m down; heading {mean:.1f}° {by}; {attitude}.",
        step,
        forward_m=lever.forward_m,
        starboard_m=lever.starboard_m,
        lever_down_m=lever.down_m,
        heading_deg=mean,
        roll_deg=lever.roll_deg,
        pitch_deg=lever.pitch_deg,
        arm_u95_m=lever.arm_u95_m,
        heading_u95_deg=lever.heading_u95_deg,
        attitude_u95_deg=lever.attitude_u95_deg if noted else lever.unnoted_attitude_u95_deg,
    )


def _tell_average(
    way: _Way, average: Average, place: tuple[float, float], fixes: FixTable, receiver: ReceiverClass
) -> None:
    stated = not math.isnan(average.r95_stated_m) and average.r95_stated_m > average.r95_class_m
    source = "receiver, as it states itself (GST)" if stated else f"receiver, class {receiver.name}"
    decimals = round(-math.log10(float(np.median(fixes.resolution_min))))
    rounding = rounding_r95_m(Notation.MINUTES, decimals, round(place[1], 1))
    way.terms[:0] = [
        Term.circle(source, average.r95_receiver_m),
        Term.circle("scatter of the fixes", average.r95_scatter_m),
        Term.circle("digits of the log", rounding),
    ]
    where = "hook" if way.survey.lever is not None else "antenna"
    wild = f", {average.wild} of them wild and passed over" if average.wild else ""
    way.stand(
        "average",
        f"Average at the {where}: {average.n} fixes in {average.span_s:.0f} s{wild}, worth"
        f" {average.n_effective:.1f} independent ones; scatter {average.scatter_m:.2g} m. Method: {METHOD}.",
        *place,
        n=average.n,
        n_effective=average.n_effective,
        span_s=average.span_s,
        correlation=average.correlation,
        scatter_m=average.scatter_m,
        wild=average.wild,
        r95_scatter_m=average.r95_scatter_m,
        r95_class_m=average.r95_class_m,
        r95_stated_m=None if math.isnan(average.r95_stated_m) else average.r95_stated_m,
        method=METHOD,
    )
    if average.wild > _MANY_WILD * average.n:
        way.warnings.append(f"{average.wild} of {average.n} fixes are wild: more than a fifth.")
    if average.r95_scatter_m * math.sqrt(average.n_effective) > 1.5 * average.r95_receiver_m:
        way.warnings.append(
            "The fixes scatter by more than their class allows: did the antenna stand still,"
            " or is the class wrong?"
        )


def _start_from_sighting(way: _Way) -> None:
    sighting = way.survey.sighting
    assert sighting is not None
    mark = sighting.mark
    sentence = f"Start at {mark.name}, R95 {mark.r95_m:g} m but for the digits left out."
    way.stand("mark", sentence, mark.lon_deg, mark.lat_deg, r95_m=mark.r95_m)
    way.terms += [
        Term.circle(f"coordinates of {mark.name}", mark.r95_m),
        Term.circle(f"digits of {mark.name}", _unwritten_m(way, mark)),
    ]
    bearing, u95 = _true(way, sighting.bearing)
    step = range_and_bearing(sighting.range_m, bearing, range_u95_m=sighting.range_u95_m, bearing_u95_deg=u95)
    way.go(
        "range and bearing",
        f"Range {sighting.range_m:g} m at {sighting.bearing.degrees:g}° {sighting.bearing.reference}:",
        step,
        range_m=sighting.range_m,
        range_u95_m=sighting.range_u95_m,
        bearing_deg=bearing,
        bearing_u95_deg=u95,
    )


def _start_from_ranges(way: _Way) -> None:
    ranges = way.survey.ranges
    # A mark that is itself in doubt makes its range as doubtful; its radius taken along the range errs to
    # the safe side.
    doubts = [math.hypot(r.range_u95_m, r.mark.r95_m, _unwritten_m(way, r.mark)) for r in ranges]
    found = fixes_from_ranges(
        [r.mark.lon_deg for r in ranges],
        [r.mark.lat_deg for r in ranges],
        [r.range_m for r in ranges],
        doubts,
    )
    fix = found[0] if len(found) == 1 else _nearer(way.survey.near, found)
    residuals = ", ".join(f"{r:+.2f}" for r in fix.residuals_m)
    told = f"residuals {residuals} m" if len(ranges) > 2 else "two ranges leave no residual to check them by"
    way.terms.append(fix.term)
    way.stand(
        "ranges",
        f"{len(ranges)} ranges from known marks, by least squares: {told}; best cut {fix.cut_deg:.0f}°.",
        fix.lon_deg,
        fix.lat_deg,
        n=len(ranges),
        cut_deg=fix.cut_deg,
        answers=len(found),
        residuals_m=residuals,
    )
    if len(ranges) == 2:
        way.warnings.append("Two ranges cannot check each other: a wrong one goes unseen.")
    if not fix.consistent:
        way.warnings.append(f"The ranges contradict one another by more than their doubt ({told}).")


def _unwritten_m(way: _Way, mark: FixedPoint) -> float:
    """Give the doubt by the digits and the notation in which a mark was written. Units: m, 95 % radius."""
    written = mark.written
    if written is None:
        return 0.0
    way.warnings.extend(f"{mark.name}: {warning}" for warning in written.warnings)
    if written.angles is None:
        return written.extra_r95_m
    latitude, longitude = written.angles
    decimals = min(latitude.decimals, longitude.decimals)
    rounding = rounding_r95_m(_NOTATIONS[latitude.notation], decimals, written.lat_deg)
    return math.hypot(rounding, written.extra_r95_m)


def _nearer(near: tuple[float, float] | None, found: list[RangeFix]) -> RangeFix:
    if near is None:
        raise AmbiguousPositionError(
            f"The ranges meet in {len(found)} places, and nothing tells which.",
            remedy="Say roughly where it is, or add a range from a mark on neither side.",
            readings=[f"{fix.lat_deg:.6f}, {fix.lon_deg:.6f}" for fix in found],
        )
    return min(found, key=lambda fix: float(inverse(*near, fix.lon_deg, fix.lat_deg)[0]))


def _true(way: _Way, bearing: Bearing) -> tuple[float, float]:
    """Give a bearing as a true one, and its doubt."""
    if bearing.reference == "true":
        return bearing.degrees, bearing.u95_deg
    if bearing.reference == "relative":
        if way.heading is None:
            what = "A bearing relative to the bow needs the heading of the vessel, and none is known."
            raise QuantityError(what, remedy="Give the lever arm with its heading, or a true bearing.")
        turned = (bearing.degrees + way.heading.degrees) % 360.0
        return turned, math.hypot(bearing.u95_deg, way.heading.u95_deg)
    variation = _variation(way)
    way.warnings.append("A magnetic bearing holds the compass's own deviation, which nobody stated.")
    way.choose(
        "variation",
        f"Magnetic variation {abs(variation.east_deg):.1f}° {'east' if variation.east_deg >= 0 else 'west'}"
        f" {variation.model}.",
        variation_east_deg=variation.east_deg,
        variation_u95_deg=variation.u95_deg,
    )
    turned = true_bearing(bearing.degrees, variation_east_deg=variation.east_deg)
    return turned, math.hypot(bearing.u95_deg, variation.u95_deg)


def _variation(way: _Way) -> Variation:
    if way.survey.variation_east_deg is not None:
        return Variation(
            east_deg=way.survey.variation_east_deg, u95_deg=_STATED_VARIATION_U95_DEG, model="as stated"
        )
    if way.year is None:
        what = "A magnetic bearing needs the year in which it was taken."
        raise QuantityError(what, remedy="Give --epoch, or state the variation.")
    found = magnetic_variation(way.lon, way.lat, way.year)
    return replace(found, model=f"by {found.model}")


def _go_through_water(way: _Way) -> None:
    survey = way.survey
    if survey.acoustic is not None:
        heard = survey.acoustic
        bearing, u95 = _true(way, heard.bearing)
        slant_u95 = heard.slant_m * heard.slant_u95_share
        step = acoustic(
            heard.slant_m,
            bearing,
            heard.depression_deg,
            slant_u95_m=slant_u95,
            bearing_u95_deg=u95,
            depression_u95_deg=heard.depression_u95_deg,
        )
        way.go(
            "acoustic fix",
            f"Slant range {heard.slant_m:g} m at {heard.bearing.degrees:g}° {heard.bearing.reference},"
            f" {heard.depression_deg:g}° below the horizon:",
            step,
            slant_m=heard.slant_m,
            slant_u95_m=slant_u95,
            bearing_deg=bearing,
            bearing_u95_deg=u95,
            depression_deg=heard.depression_deg,
            depression_u95_deg=heard.depression_u95_deg,
        )
    if survey.buoy is not None:
        buoy, current = survey.buoy, survey.current
        scope = surface_buoy(
            buoy.depth_m,
            buoy.line_m,
            current_toward_deg=current.toward_deg if current else None,
            direction_u95_deg=current.direction_u95_deg if current else 0.0,
        )
        set_ = f"current toward {current.toward_deg:g}°" if current else "no current noted"
        sentence = f"Buoy on {buoy.line_m:g} m of line in {buoy.depth_m:g} m of water, {set_}:"
        way.go("buoy", sentence, scope, line_m=buoy.line_m, depth_m=buoy.depth_m)
    if survey.descent is not None:
        _drift(way)


def _drift(way: _Way) -> None:
    descent, current = way.survey.descent, way.survey.current
    assert descent is not None
    if current is None:
        # Nobody looked: half a knot to any side is cautious for a day on which one works. No source.
        current = Current(
            speed_mps=0.0, toward_deg=0.0, speed_u95_mps=0.25, direction_u95_deg=_ANY_DIRECTION_DEG
        )
        way.warnings.append("No current was noted: up to 0.25 m/s to any side is allowed for.")
    fall_u95 = descent.fall_speed_mps * descent.fall_speed_u95_share
    step = descent_drift(
        descent.depth_m,
        descent.fall_speed_mps,
        current.speed_mps,
        current.toward_deg,
        depth_u95_m=descent.depth_u95_m,
        fall_speed_u95_mps=fall_u95,
        current_u95_mps=current.speed_u95_mps,
        current_direction_u95_deg=current.direction_u95_deg,
        glide_r95_m=descent.depth_m * descent.glide_share,
    )
    way.go(
        "drift on descent",
        f"Fall of {descent.depth_m:g} m at {descent.fall_speed_mps:g} m/s"
        f" in a current of {current.speed_mps:.2g} m/s:",
        step,
        depth_m=descent.depth_m,
        depth_u95_m=descent.depth_u95_m,
        fall_speed_mps=descent.fall_speed_mps,
        fall_speed_u95_mps=fall_u95,
        current_mps=current.speed_mps,
        current_u95_mps=current.speed_u95_mps,
        current_toward_deg=current.toward_deg,
        current_direction_u95_deg=current.direction_u95_deg,
        glide_r95_m=descent.depth_m * descent.glide_share,
    )


def _middle_lon(lon_deg: np.ndarray) -> float:
    """Give a longitude near all of them, across the 180th meridian too."""
    turned = (lon_deg - lon_deg[0] + 180.0) % 360.0 - 180.0
    return float((lon_deg[0] + np.median(turned) + 180.0) % 360.0 - 180.0)
