"""What a shift common to a whole survey looks like: the differences between known frames, at that place."""

import math
from dataclasses import dataclass

from registry.errors import LeadlineError, MissingGridError
from registry.measure.datum import resolve, transform
from registry.measure.frames import FRAMES, Frame, in_box
from registry.measure.geodesic import inverse
from registry.measure.movement import CommonShift, circular_covariance, stillness_p

__all__ = ["FrameSlip", "explain_shift", "frame_slips"]

#: A slip is named where the shift is this likely under it, or likelier.
LIKELY = 0.01
#: Slips nearer to nothing than this explain nothing. Units: m.
LEAST_SLIP_M = 0.15
#: An operation is never held for better than this here. Units: m.
LEAST_DOUBT_M = 0.05
#: Old datums that may be left on a plotter, and how far their numbers lie from today's. Units: m.
#: NGS station pairs of six states: 26 m (South Carolina) to 89 m (California); 452 m for Old Hawaiian.
OLD_DATUMS = {"NAD27": (20.0, 100.0), "Old Hawaiian": (400.0, 500.0)}


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameSlip:
    """Where everything seems to lie if a receiver was set otherwise than stated."""

    actual: str
    stated: str
    #: Seen minus true. Units: m.
    east_m: float
    north_m: float
    #: Doubt of the operation. Units: m, 95 % radius.
    r95_m: float


def frame_slips(
    lon_deg: float, lat_deg: float, *, home: str, stated: str, epoch: float
) -> tuple[tuple[FrameSlip, ...], tuple[str, ...]]:
    """
    Work out every slip of frame that is possible at a place.

    Parameters
    ----------
    lon_deg, lat_deg : float
        In the home frame. Units: degrees.
    home, stated : str
        The home frame, and the frame that the observations state.
    epoch : float
        Of the observations. Units: decimal year.

    Returns
    -------
    slips, unknown : tuple
        The slips, and the names of old datums whose grid file is absent.
    """
    slips: list[FrameSlip] = []
    unknown: list[str] = []
    told = resolve(stated)
    for row in FRAMES:
        if not _in_use(row, lon_deg, lat_deg) or row.code == told.base:
            continue
        try:
            there = transform(lon_deg, lat_deg, source=home, target=row.code, epoch=epoch)
            back = transform(there.lon_deg, there.lat_deg, source=told.base, target=home, epoch=epoch)
        except MissingGridError:
            unknown.append(row.name)
            continue
        except LeadlineError:
            continue  # no operation can be trusted, so nothing can be said of it
        distance_m, bearing_deg = (float(v) for v in inverse(lon_deg, lat_deg, back.lon_deg, back.lat_deg))
        if distance_m < LEAST_SLIP_M:
            continue
        azimuth = math.radians(bearing_deg)
        slips.append(
            FrameSlip(
                actual=row.name,
                stated=told.name,
                east_m=distance_m * math.sin(azimuth),
                north_m=distance_m * math.cos(azimuth),
                r95_m=math.hypot(there.accuracy_m, back.accuracy_m),
            )
        )
    return tuple(slips), tuple(unknown)


def explain_shift(
    shift: CommonShift,
    lon_deg: float,
    lat_deg: float,
    *,
    home: str,
    stated: tuple[str, float],
    stated_then: tuple[str, float],
) -> tuple[str, ...]:
    """
    Say which known frame difference a common shift matches, if any.

    Parameters
    ----------
    shift : CommonShift
        What all modules of a survey show alike.
    lon_deg, lat_deg : float
        In the home frame. Units: degrees.
    home : str
        The home frame.
    stated, stated_then : tuple of str and float
        Frame and epoch that the survey states, and those of the observations that it is compared with.
        A slip of the survey moves what is seen, one of the earlier observations moves it the other way.

    Returns
    -------
    tuple of str
        Sentences, the likeliest first.
    """
    likely: list[tuple[float, str]] = []
    unknown: tuple[str, ...] = ()
    for who, (frame, epoch), sign in (
        ("this survey was made", stated, 1.0),
        ("the earlier positions were taken", stated_then, -1.0),
    ):
        slips, unknown = frame_slips(lon_deg, lat_deg, home=home, stated=frame, epoch=epoch)
        for slip in slips:
            covariance = shift.covariance + circular_covariance(max(slip.r95_m, LEAST_DOUBT_M))
            off = shift.east_m - sign * slip.east_m, shift.north_m - sign * slip.north_m
            p = float(stillness_p(*off, covariance))
            size = f"{math.hypot(slip.east_m, slip.north_m):.2f} m here"
            sentence = f"It matches {slip.stated} stated where {who} in {slip.actual}: {size}."
            if p >= LIKELY:
                likely.append((p, sentence))
    sentences = [sentence for _, sentence in sorted(likely, key=lambda pair: -pair[0])[:3]]
    for name in unknown:
        low, high = OLD_DATUMS.get(name, (math.inf, math.inf))
        if low <= shift.distance_m <= high:
            sentences.append(
                f"It is of the size of {name} left on a receiver or plotter ({low:.0f} to {high:.0f} m); "
                "give the grid file with --grids DIR to be sure."
            )
    if not sentences:
        sentences.append(
            "It matches no difference between the frames known here: suspect the receiver, its "
            "corrections, or an antenna that was not over the module."
        )
    return tuple(sentences)


def _in_use(row: Frame, lon_deg: float, lat_deg: float) -> bool:
    """Tell whether a receiver may be set to a frame here: WGS 84, or one of the region."""
    here = bool(in_box(lon_deg, lat_deg, row.box))
    elsewhere = any(bool(in_box(lon_deg, lat_deg, box)) for box, _ in row.elsewhere)
    named = row.plate_fixed or row.code == "EPSG:4326"
    # Another name of the same numbers tells nothing apart.
    return named and here and not elsewhere and row.code != "EPSG:4269"
