"""Turn a written coordinate into any other: frame, epoch and operation named, nothing guessed."""

from dataclasses import dataclass

import numpy as np

from registry.actions.written_digits import written_digits_r95_m
from registry.errors import FrameError
from registry.measure.datum import ResolvedFrame, Transformed, resolve, transform
from registry.measure.geodesic import inverse
from registry.measure.home_region import propose_home_frames
from registry.measure.uncertainty import combine
from registry.records.position import Position
from registry.records.written_position import WrittenPosition

__all__ = ["Conversion", "Converted", "convert_position"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Conversion:
    """What is asked."""

    #: Frame of what is written, None where the text itself names it.
    source: str | None = None
    #: Epoch of what is written. Units: decimal year.
    epoch: float | None = None
    #: Frame or projected grid that is wanted.
    target: str
    #: Epoch that is wanted. Units: decimal year.
    to_epoch: float | None = None
    #: 95 % radius of the position, where somebody knows it. Units: m.
    r95_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Converted:
    """One coordinate in its new frame."""

    written: WrittenPosition
    source: ResolvedFrame
    source_epoch: float | None
    #: The geographic frame that was wanted, and the grid on it where one was.
    target: ResolvedFrame
    grid: ResolvedFrame | None
    #: In the target. Its radius joins what was stated, the written digits and the operation.
    position: Position
    #: False where nobody stated how good the fix was: the radius is then that of the writing alone.
    radius_known: bool
    operation: str
    #: What the operation adds to the doubt. Units: m.
    accuracy_m: float
    software: str
    #: How far the numbers moved on the ellipsoid, and which way. Units: m; degrees from true north.
    shift_m: float
    shift_bearing_deg: float
    basis: tuple[str, ...]


def convert_position(written: WrittenPosition, asked: Conversion) -> Converted:
    """
    Convert one written position.

    A mark on the sea floor is meant. Between two epochs of a moving frame it is carried by way of the
    plate-fixed frame of its region, so with its plate.

    Raises
    ------
    FrameError
        If a frame or an epoch is missing or contradicts the text, or no operation can be trusted.
    MissingGridError
        If the operation needs a grid file that is absent.
    """
    source, epoch, basis = _source(written, asked)
    wanted = resolve(asked.target)
    target = resolve(wanted.base) if wanted.projected else wanted
    moved, epoch_out = _carried(written, source, epoch, target, asked.to_epoch)
    lat_deg, lon_deg = float(moved.lat_deg), (float(moved.lon_deg) + 180.0) % 360.0 - 180.0
    shift_m, bearing_deg = inverse(written.lon_deg, written.lat_deg, lon_deg, lat_deg)
    digits_m = written_digits_r95_m(written)
    parts = {
        "as stated": asked.r95_m or written.stated_r95_m or 0.0,
        "the digits written": digits_m,
        "the square or datum as written": written.extra_r95_m,
        "the operation": moved.accuracy_m,
    }
    told = ", ".join(f"{name} {size:.2g} m" for name, size in parts.items() if size > 0)
    known = asked.r95_m is not None or written.stated_r95_m is not None
    if not known:
        basis += ("How good the fix was is not known here: the radius holds writing and operation alone.",)
    return Converted(
        written=written,
        source=source,
        source_epoch=epoch,
        target=target,
        grid=wanted if wanted.projected else None,
        position=Position(
            lat_deg=lat_deg,
            lon_deg=lon_deg,
            frame=target.code,
            epoch=epoch_out,
            r95_m=float(combine(*parts.values())),
        ),
        radius_known=known,
        operation=moved.operation,
        accuracy_m=moved.accuracy_m,
        software=moved.proj_version,
        shift_m=float(shift_m),
        shift_bearing_deg=float(bearing_deg),
        basis=(*basis, f"95 % radius from: {told}."),
    )


def _source(
    written: WrittenPosition, asked: Conversion
) -> tuple[ResolvedFrame, float | None, tuple[str, ...]]:
    """Settle frame and epoch of what is written."""
    basis: tuple[str, ...] = ()
    if asked.source is None and written.frame is None:
        what = f"“{written.text}” does not say its frame."
        raise FrameError(what, remedy="Name it with --from, as EPSG:4326 for WGS 84 from a receiver.")
    stated = _geographic(asked.source) if asked.source is not None else None
    said = _geographic(written.frame) if written.frame is not None else None
    if stated is not None and said is not None and stated.base != said.base:
        what = f"The text says {said.name}, but {stated.name} is stated beside it."
        raise FrameError(what, remedy="State one frame: leave out --from, or the name in the text.")
    source = stated or said
    assert source is not None
    if stated is None:
        basis = (f"The text itself names the frame: {source.name}.",)
    if asked.epoch is not None and written.epoch is not None and asked.epoch != written.epoch:
        what = f"The text says epoch {written.epoch:g}, but {asked.epoch:g} is stated beside it."
        raise FrameError(what, remedy="State one epoch: leave out --epoch, or the year in the text.")
    epoch = asked.epoch if asked.epoch is not None else written.epoch
    return source, source.epoch if epoch is None else epoch, basis


def _geographic(code: str) -> ResolvedFrame:
    found = resolve(code)
    return resolve(found.base) if found.projected else found


def _carried(
    written: WrittenPosition,
    source: ResolvedFrame,
    epoch: float | None,
    target: ResolvedFrame,
    to_epoch: float | None,
) -> tuple[Transformed, float | None]:
    """Run the operation at the right epoch, by way of the ground itself where two epochs differ."""
    lon, lat = written.lon_deg, written.lat_deg
    if not target.dynamic:
        if to_epoch is not None and target.base != source.base and to_epoch != target.epoch:
            own = f"of epoch {target.epoch:g}" if target.epoch is not None else "of no stated epoch"
            what = (
                f"Coordinates in {target.name} are {own}, not of {to_epoch:g}: the frame rides on its plate."
            )
            raise FrameError(what, remedy="Leave out --to-epoch.")
        moved = transform(lon, lat, source=source.code, target=target.code, epoch=epoch)
        return moved, epoch if target.base == source.base else target.epoch
    if not source.dynamic:
        if to_epoch is None:
            what = f"In {target.name} the sea floor moves, and no day was named for the result."
            raise FrameError(what, remedy="Name it with --to-epoch YEAR, as 2026.9, or --on DAY.")
        return transform(lon, lat, source=source.code, target=target.code, epoch=to_epoch), to_epoch
    if to_epoch is None or to_epoch == epoch:
        return transform(lon, lat, source=source.code, target=target.code, epoch=epoch), epoch
    if epoch is None:
        what = f"In {source.name} the sea floor moves, and the epoch of the coordinates was not given."
        raise FrameError(what, remedy="Give it with --epoch YEAR: for a fix, the day it was taken.")
    return _with_the_ground(written, source, epoch, target, to_epoch), to_epoch


def _with_the_ground(
    written: WrittenPosition, source: ResolvedFrame, epoch: float, target: ResolvedFrame, to_epoch: float
) -> Transformed:
    """Carry a mark from one epoch to another on the frame that rides with the ground there."""
    proposed = propose_home_frames(written.lon_deg, written.lat_deg)
    if not proposed:
        what = f"No plate-fixed frame is known here that would carry a mark from {epoch:g} to {to_epoch:g}."
        raise FrameError(what, remedy="Ask for the same epoch with --to-epoch.")
    ground = proposed[0].code
    down = transform(written.lon_deg, written.lat_deg, source=source.code, target=ground, epoch=epoch)
    up = transform(down.lon_deg, down.lat_deg, source=ground, target=target.code, epoch=to_epoch)
    return Transformed(
        lon_deg=np.asarray(up.lon_deg),
        lat_deg=np.asarray(up.lat_deg),
        operation=f"{down.operation} at {epoch:g}, then {up.operation} at {to_epoch:g}",
        # Ground that leaves its plate does so all the years between: the two add up.
        accuracy_m=down.accuracy_m + up.accuracy_m,
        epoch=to_epoch,
        outside=down.outside | up.outside,
        proj_version=up.proj_version,
    )
