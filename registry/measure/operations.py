"""
Datum operations as PROJ runs them: chains of EPSG operations by number, grids, and what a search may add.

``datum`` decides which of them lie between two frames.
"""

import warnings
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pyproj import Geod, Transformer, datadir
from pyproj.enums import TransformDirection
from pyproj.exceptions import CRSError, ProjError
from pyproj.transformer import TransformerGroup

from registry.errors import FrameError, MissingGridError
from registry.measure.frames import HUB, Box, Frame, frame_of, in_box

__all__ = [
    "Leg",
    "grid_leg",
    "named_legs",
    "require_every",
    "reversed_leg",
    "run",
    "searched_leg",
    "use_grids",
]

Floats = NDArray[np.float64]

#: Worst stated accuracy of an operation that is not in the table of frames. Units: m.
_ACCURACY_M = 0.2
#: The EPSG conversion that only swaps latitude and longitude.
_AXIS_ORDER = 15498


@dataclass(frozen=True, slots=True, kw_only=True)
class Leg:
    """One transformer, the direction in which to run it, and what to say of it."""

    transformer: Transformer
    direction: TransformDirection
    label: str
    accuracy_m: float
    needs_epoch: bool


def require_every(
    good: NDArray[np.bool_],
    x: Floats,
    y: Floats,
    what: str,
    remedy: str,
    *,
    named: Callable[[float, float], str] | None = None,
) -> None:
    """Raise for the first point that is not good, and name it: as a place, or by what `named` writes."""
    if not np.all(good):
        i = int(np.argmin(good.ravel()))
        where = f" (point {i + 1} of {good.size})" if good.size > 1 else ""
        point = (named or _place)(float(x.ravel()[i]), float(y.ravel()[i]))
        raise FrameError(f"{point}{where} {what}.", remedy=remedy)


def _place(lon_deg: float, lat_deg: float) -> str:
    """Write a place as a crew reads it, to some 10 m: enough to find the slip by."""
    if not (abs(lat_deg) <= 90.0 and abs(lon_deg) <= 360.0):
        return f"Latitude {lat_deg:g}, longitude {lon_deg:g}"
    lon_deg = (lon_deg + 180.0) % 360.0 - 180.0
    north, east = "N" if lat_deg >= 0 else "S", "E" if lon_deg >= 0 else "W"
    return f"{abs(lat_deg):.4f} {north} {abs(lon_deg):.4f} {east}"


def reversed_leg(leg: Leg) -> Leg:
    """The same leg, run backwards."""
    forward = leg.direction == TransformDirection.FORWARD
    return Leg(
        transformer=leg.transformer,
        direction=TransformDirection.INVERSE if forward else TransformDirection.FORWARD,
        label=f"INVERSE({leg.label})",
        accuracy_m=leg.accuracy_m,
        needs_epoch=leg.needs_epoch,
    )


@lru_cache(maxsize=256)
def _operation(number: int) -> tuple[str, float, bool]:
    """Ask PROJ for one EPSG operation: its steps, its accuracy, and whether it acts on X, Y, Z."""
    urn = f"urn:ogc:def:coordinateOperation:EPSG::{number}"
    transformer = Transformer.from_pipeline(urn)
    definition = transformer.definition
    steps = " ".join(f"+{word}" for word in definition.split())
    geocentric = not definition.startswith("proj=pipeline")
    return (
        (f"+step {steps}" if geocentric else steps.removeprefix("+proj=pipeline ")),
        transformer.accuracy,
        geocentric,
    )


@lru_cache(maxsize=256)
def named_legs(chain: tuple[int, ...], here: str, there: str) -> list[Leg]:
    """Build the transformer of a chain of EPSG operations, each asked for by its number."""
    a, b = frame_of(here), frame_of(there)
    if not chain or a is None or b is None:
        return []
    to_xyz = f"+step +proj=unitconvert +xy_in=deg +xy_out=rad +step +proj=cart +ellps={a.ellipsoid}"
    to_degrees = f"+step +inv +proj=cart +ellps={b.ellipsoid} +step +proj=unitconvert +xy_in=rad +xy_out=deg"
    middle, accuracies, labels = [], [], []
    acts_on_xyz = True
    for signed in chain:
        steps, accuracy_m, acts_on_xyz = _operation(abs(signed))
        # An operation that is itself a pipeline of degrees stands alone, and is only run forwards here.
        middle.append(steps.replace("+step ", "+step +inv ", 1) if signed < 0 and acts_on_xyz else steps)
        accuracies.append(accuracy_m)
        labels.append(f"INVERSE(EPSG:{-signed})" if signed < 0 else f"EPSG:{signed}")
    direction = TransformDirection.FORWARD
    if acts_on_xyz:
        pipeline = " ".join(["+proj=pipeline", to_xyz, *middle, to_degrees])
    else:
        swap = "+step +proj=axisswap +order=2,1"
        pipeline = " ".join(["+proj=pipeline", swap, *middle, swap])
        if chain[0] < 0:
            direction = TransformDirection.INVERSE
    leg = Leg(
        transformer=Transformer.from_pipeline(pipeline),
        direction=direction,
        label=" + ".join(labels),
        accuracy_m=float(np.sqrt(np.sum(np.square(accuracies)))),
        needs_epoch="+t_epoch" in pipeline,
    )
    return [leg]


def grid_leg(row: Frame, lon: Floats, lat: Floats) -> Leg:
    """Build the grid operation of an old datum for the area in which the points lie."""
    areas = [g for g in row.grid_operations if bool(np.all(in_box(lon, lat, g.box)))]
    if not areas:
        names = " or ".join(g.area for g in row.grid_operations)
        what = f"No single grid from {row.name} to a modern frame covers these points."
        raise FrameError(what, remedy=f"The grids known are for {names}; transform each area by itself.")
    grid = areas[0]
    usable = [t for t in (_grid_transformer(number) for number in grid.operations) if t is not None]
    if not usable:
        files = " or ".join(grid.grids)
        what = f"{row.name} in {grid.area} needs the grid file {files}, which is absent."
        remedy = (
            "Put it into a folder and give that with --grids DIR; "
            "the PROJ-data collection (public domain) holds it. Without it the shift is wrong by 2 to 10 m."
        )
        raise MissingGridError(what, remedy=remedy)
    number, transformer = usable[0]
    accuracy_m = grid.r95_m
    if len(usable) > 1 and lon.size:
        ends = [t.transform(lon.ravel(), lat.ravel()) for _, t in usable[:2]]
        apart = np.asarray(Geod(ellps="GRS80").inv(ends[0][0], ends[0][1], ends[1][0], ends[1][1])[2])
        accuracy_m = max(accuracy_m, float(np.nanmax(np.where(np.isfinite(apart), apart, 0.0))))
    return Leg(
        transformer=transformer,
        direction=TransformDirection.FORWARD,
        label=f"EPSG:{number}",
        accuracy_m=accuracy_m,
        needs_epoch=False,
    )


def _grid_transformer(number: int) -> tuple[int, Transformer] | None:
    """Build one grid operation by its EPSG number, or nothing where its file is absent."""
    try:
        steps, _, _ = _operation(number)
    except ProjError:
        return None
    swap = "+step +proj=axisswap +order=2,1"
    return number, _pipeline(f"+proj=pipeline {swap} {steps} {swap}")


@lru_cache(maxsize=64)
def _pipeline(text: str) -> Transformer:
    """Build a transformer from the steps of a pipeline."""
    return Transformer.from_pipeline(text)


@lru_cache(maxsize=64)
def _candidates(code: str) -> tuple[list[tuple[Transformer, Box]], list[tuple[tuple[str, ...], Box]]]:
    """List what PROJ finds from an unlisted frame to ITRF2020: what can be trusted, and what lacks a grid."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            group = TransformerGroup(code, HUB, always_xy=True, allow_ballpark=False)
    except (ProjError, CRSError, IndexError):
        return [], []
    trusted = [(t, t.area_of_use.bounds) for t in group.transformers if t.area_of_use and _is_trusted(t)]
    lacking = [
        (tuple(grid.short_name for grid in o.grids if not grid.available), o.area_of_use.bounds)
        for o in group.unavailable_operations
        if o.area_of_use and o.grids
    ]
    return trusted, lacking


def _is_trusted(transformer: Transformer) -> bool:
    """Tell whether a found operation is a real one of known, small error."""
    steps = transformer.operations or ()
    names = [step.name for step in steps]
    stated = [step.accuracy for step in steps if step.accuracy >= 0]
    return (
        0.0 <= transformer.accuracy <= _ACCURACY_M
        and bool(stated)
        and not any("allpark" in name or "to WGS 84 (" in name or "from WGS 84 (" in name for name in names)
        and not any(_is_null(step.to_json_dict()) for step in steps)
    )


def _is_null(step: dict[str, Any]) -> bool:
    """Tell whether a step changes the datum but no number."""
    parameters = step.get("parameters", [])
    changes_datum = step.get("type") == "Transformation" and "Null geographic offset" not in step["name"]
    return changes_datum and bool(parameters) and all(p.get("value") == 0 for p in parameters)


def searched_leg(code: str, name: str, lon: Floats, lat: Floats) -> Leg:
    """Take the best trustworthy operation that PROJ finds to ITRF2020 for a frame outside the table."""
    trusted, lacking = _candidates(code)
    for transformer, box in trusted:
        if np.all(in_box(lon, lat, box)):
            return Leg(
                transformer=transformer,
                direction=TransformDirection.FORWARD,
                label=_label(transformer),
                accuracy_m=transformer.accuracy,
                needs_epoch=True,
            )
    for grids, box in lacking:
        if np.all(in_box(lon, lat, box)):
            what = f"{code} ({name}) needs the grid files {', '.join(grids)}, which are absent."
            raise MissingGridError(what, remedy="Put them into a folder and give that with --grids DIR.")
    what = f"No operation between {code} ({name}) and ITRF2020 can be trusted here."
    raise FrameError(
        what, remedy="Give the coordinates in WGS 84, ITRF2020 or a named realisation, with epoch."
    )


def _label(transformer: Transformer) -> str:
    """Name the numbered operations of a transformer, leaving out the change of axis order."""
    ids = (step.to_json_dict().get("id") for step in transformer.operations or ())
    names = [f"{i['authority']}:{i['code']}" for i in ids if i and i["code"] != _AXIS_ORDER]
    return " + ".join(f"{n.replace('(EPSG):', '(EPSG:')})" if "(" in n else n for n in names)


def run(leg: Leg, x: Floats, y: Floats, z: Floats, t: Floats | None) -> tuple[Floats, Floats, Floats]:
    """Run one leg, and refuse a result that is no place."""
    try:
        if t is None:
            out = leg.transformer.transform(x, y, z, direction=leg.direction)
        else:
            out = leg.transformer.transform(x, y, z, t, direction=leg.direction)[:3]
    except ProjError as error:
        raise FrameError(f"The operation {leg.label} failed.", remedy="Check the coordinates.") from error
    new_x, new_y, new_z = (np.asarray(a) for a in out)
    good = np.isfinite(new_x) & np.isfinite(new_y)
    require_every(
        good, x, y, f"lies outside the grid or area of {leg.label}", "Check the coordinates and the frame."
    )
    return new_x, new_y, new_z


def use_grids(folder: str) -> None:
    """
    Let datum operations find grid files in a folder, beside those of PROJ itself.

    Parameters
    ----------
    folder : str
        Path of the folder; whether it exists is for the caller to check.

    Notes
    -----
    Holds for the whole process. Operations that failed before are tried anew.
    """
    datadir.append_data_dir(folder)
    for cached in (_operation, named_legs, _pipeline, _candidates):
        cached.cache_clear()
