"""
Shapes that others drew, read from GeoPackage, GeoJSON, Shapefile and KML in a process apart.

A shapefile may lie in a zip. A file in a map projection is brought back to the longitude and latitude that
the projection was made from, which is exact and changes no frame; a change of frame is not made here.

Sources
-------
RFC 7946 section 4 and OGC 07-147r2 (KML 2.2): without a word to the contrary their coordinates are WGS 84.
"""

import json
import os
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError
from shapely.geometry import shape
from shapely.geometry.base import BaseGeometry

from registry.errors import FrameError, GeometryError, NotFoundError, UnreadableFileError
from registry.storage import fiona_process
from registry.storage.foreign_settings import FOREIGN_SETTINGS

__all__ = ["DRIVERS", "LayerShapes", "read_layer"]

WGS84 = "EPSG:4326"
#: How long a file may take before it is given up. Units: s.
PATIENCE_S = 120
DRIVERS = {
    ".gpkg": "GPKG",
    ".geojson": "GeoJSON",
    ".json": "GeoJSON",
    ".shp": "ESRI Shapefile",
    ".zip": "ESRI Shapefile",
    ".kml": "KML",
}
#: What a shapefile cannot be read without.
SHAPEFILE_PARTS = (".shx", ".dbf")
POLYGONS = frozenset({"Polygon", "MultiPolygon"})
IDENTIFICATION_CONFIDENCE = 70


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerShapes:
    """The shapes of one layer, as the file has them."""

    #: The layer read.
    layer: str
    #: Frame of the coordinates, as "EPSG:6318"; None where the file states none.
    frame: str | None
    #: Name of the map projection that was undone; None where there was none.
    projection: str | None
    #: Name (or number) and geometry of each feature; longitude, latitude in degrees where a frame is known.
    shapes: tuple[tuple[str, BaseGeometry], ...]


def read_layer(path: Path, layer: str | None = None, *, polygons_only: bool = True) -> LayerShapes:
    """
    Read the shapes of a layer.

    Parameters
    ----------
    path : Path
        A ``.gpkg``, ``.geojson``, ``.json``, ``.shp``, ``.kml``, or a ``.zip`` with shapefiles in it.
    layer : str, optional
        Needed where the file has several.
    polygons_only : bool
        Refuse points and lines.

    Returns
    -------
    LayerShapes
        Heights are left out; features without a geometry too.

    Raises
    ------
    UnreadableFileError
        If the file is absent, empty, of another kind or damaged.
    NotFoundError
        If the layer is not there, or several are and none is named.
    FrameError
        If the file states a frame that has no EPSG code.
    GeometryError
        If the layer has no shapes, or one of the wrong kind.
    """
    path = Path(path)
    driver = _driver(path)
    target, inner = _target(path, driver, layer)
    answer = _read_apart(path, {"target": target, "driver": driver, "layer": inner or layer})
    if "layer" not in answer:
        _chosen(answer["layers"], layer, path)
    found = answer["layer"]
    shapes = tuple(_shapes(answer["features"], path, found, polygons_only=polygons_only))
    frame, projection, shapes = _in_degrees(answer["wkt"], shapes, path, driver)
    return LayerShapes(layer=found, frame=frame, projection=projection, shapes=shapes)


def _read_apart(path: Path, request: dict[str, Any]) -> dict[str, Any]:
    """Have a process of its own read the file: a crash there is only a message here."""
    environment = {name: value for name, value in os.environ.items() if name not in FOREIGN_SETTINGS}
    # Without -P a fiona.py in the folder of the person would be loaded instead.
    command = [sys.executable, "-P", fiona_process.__file__, json.dumps(request)]
    try:
        run = subprocess.run(command, env=environment, capture_output=True, timeout=PATIENCE_S, check=False)
        answer: dict[str, Any] = json.loads(run.stdout)
    except subprocess.TimeoutExpired as error:
        what = f"{path} could not be read within {PATIENCE_S} seconds."
        raise UnreadableFileError(what, remedy="Copy it to this machine, or export a part of it.") from error
    except (json.JSONDecodeError, UnicodeDecodeError, OSError) as error:
        what = f"{path} is damaged: reading it failed without an answer."
        raise UnreadableFileError(what, remedy="Export it again from where it was drawn.") from error
    if "error" in answer:
        what = f"{path} cannot be read as {request['driver']}: {answer['error']}."
        raise UnreadableFileError(what, remedy="Check that it opens in a GIS, or export it again.")
    return answer


def _driver(path: Path) -> str:
    driver = DRIVERS.get(path.suffix.lower())
    if driver is None:
        what = f"{path} is of no kind that can be read here."
        raise UnreadableFileError(what, remedy=f"Give a file that ends with {', '.join(DRIVERS)}.")
    if not path.is_file():
        raise UnreadableFileError(f"There is no file {path}.", remedy="Check the name and the folder.")
    if path.stat().st_size == 0:
        raise UnreadableFileError(f"{path} is empty.", remedy="Copy or export it again.")
    return driver


def _target(path: Path, driver: str, layer: str | None) -> tuple[str, str | None]:
    """Give what to open, and the layer where the file's own name is its only one."""
    if path.suffix.lower() == ".zip":
        return _in_zip(path, layer)
    if driver == "ESRI Shapefile":
        present = {sibling.suffix.lower() for sibling in path.parent.glob(f"{path.stem}.*")}
        _complete(path, present)
        if layer not in {None, path.stem}:
            raise _no_layer(path, [path.stem], layer)
        return str(path), path.stem
    return str(path), None


def _in_zip(path: Path, layer: str | None) -> tuple[str, str | None]:
    try:
        with zipfile.ZipFile(path) as archive:
            names = archive.namelist()
    except (zipfile.BadZipFile, OSError) as error:
        what = f"{path} is not a zip that can be read: {_one_line(error)}."
        raise UnreadableFileError(what, remedy="Copy or export it again.") from error
    found = {Path(name).stem: name for name in sorted(names) if name.lower().endswith(".shp")}
    if not found:
        what = f"{path} holds no shapefile."
        raise UnreadableFileError(what, remedy="Zip the .shp together with its .shx, .dbf and .prj.")
    stem = _chosen(list(found), layer, path)
    whole = found[stem]
    _complete(
        path,
        {
            Path(name).suffix.lower()
            for name in names
            if Path(name).with_suffix("") == Path(whole).with_suffix("")
        },
    )
    return f"zip://{path.resolve()}!/{whole}", stem


def _complete(path: Path, present: set[str]) -> None:
    missing = [part for part in SHAPEFILE_PARTS if part not in present]
    if missing:
        what = f"The shapefile {path} lacks its {' and '.join(missing)}."
        raise UnreadableFileError(what, remedy="A shapefile is several files: copy all that share its name.")


def _chosen(layers: list[str], layer: str | None, path: Path) -> str:
    if not layers:
        raise UnreadableFileError(f"{path} has no layer.", remedy="Export the shapes again.")
    if layer is None and len(layers) == 1:
        return layers[0]
    if layer is None:
        what = f"{path} has several layers: {', '.join(layers)}."
        raise NotFoundError(
            what, remedy='Name the one to read with --layer NAME, or in a permit file with layer = "NAME".'
        )
    if layer not in layers:
        raise _no_layer(path, layers, layer)
    return layer


def _no_layer(path: Path, layers: list[str], layer: str | None) -> NotFoundError:
    return NotFoundError(f"{path} has no layer {layer!r}.", remedy=f"It has: {', '.join(layers)}.")


def _shapes(
    features: list[list[Any]], path: Path, layer: str, *, polygons_only: bool
) -> Iterator[tuple[str, BaseGeometry]]:
    count = 0
    for name, geometry in features:
        if geometry is None:
            continue
        try:
            read = shapely.force_2d(shape(geometry))
        except (shapely.errors.GEOSException, ValueError) as error:
            what = f"{path}, layer {layer}: feature {name} is no sound shape: {_one_line(error)}."
            raise GeometryError(what, remedy="Draw it again, with a number for every coordinate.") from error
        if read.is_empty:
            continue
        if polygons_only and read.geom_type not in POLYGONS:
            what = f"{path}, layer {layer}: feature {name} is a {read.geom_type}, not a polygon."
            raise GeometryError(what, remedy="Draw the outline as a polygon, or name a layer of polygons.")
        count += 1
        yield name, read
    if not count:
        what = f"{path}, layer {layer}, has no shapes."
        raise GeometryError(what, remedy="Export the shapes again, or name another layer.")


def _in_degrees(
    text: str, shapes: tuple[tuple[str, BaseGeometry], ...], path: Path, driver: str
) -> tuple[str | None, str | None, tuple[tuple[str, BaseGeometry], ...]]:
    if not text:
        return (WGS84 if driver == "KML" else None), None, shapes
    try:
        stated = CRS.from_wkt(text).to_2d()
    except CRSError as error:
        what = f"{path} states a frame that cannot be read."
        raise FrameError(what, remedy="Export it in a frame with an EPSG code.") from error
    if stated.is_compound:
        stated = stated.sub_crs_list[0]
    base = stated.geodetic_crs if stated.is_projected else stated
    code = base.to_epsg(min_confidence=IDENTIFICATION_CONFIDENCE) if base is not None else None
    if base is None or code is None or not base.is_geographic:
        what = f"{path} states the frame {stated.name!r}, which has no EPSG code."
        raise FrameError(what, remedy="Export it in a frame with an EPSG code, as EPSG:6318.")
    if not stated.is_projected:
        return f"EPSG:{code}", None, shapes
    undo = Transformer.from_crs(stated, base, always_xy=True)

    def in_degrees(points: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.column_stack(undo.transform(points[:, 0], points[:, 1]))

    unprojected = tuple((name, shapely.transform(geometry, in_degrees)) for name, geometry in shapes)
    return f"EPSG:{code}", stated.name, unprojected


def _one_line(error: BaseException) -> str:
    return " ".join(str(error).split()).rstrip(".")
