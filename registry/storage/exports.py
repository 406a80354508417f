"""
The public site as layers for desktop GIS: a GeoPackage, or shapefiles in one zip.

Coordinates are WGS 84 (G2296) at the epoch that each row states. The layers are labelled EPSG:4326, the name
under which every GIS draws them without a question; the label alone does not tell the realisation, the
columns ``frame`` and ``epoch`` do.

A shapefile is several files, which no rename can put in place at once: hence the zip. Names of its fields
have 10 characters at most (:data:`SHORT_NAMES`), its text is UTF-8 (``.cpg``), and shapes across the 180th
meridian are split in both formats.

Sources
-------
OGC GeoPackage 1.3; the shapefile's technical description of 1998 (field names of 10 characters, texts of 254
bytes, one kind of geometry to a layer).
"""

import tempfile
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from typing import Any

from shapely import Point
from shapely.geometry.base import BaseGeometry

from registry.errors import ConflictError, RequestError, UnwritableError
from registry.measure.antimeridian_cut import cut_at_antimeridian, single_parts
from registry.records.public_site import PublicSite
from registry.records.public_wording import (
    CAUTIONS,
    FRAME,
    area_properties,
    frame_words,
    module_properties,
    publication_words,
    rounded_position,
)
from registry.storage.files import write_file
from registry.storage.foreign_settings import drop_foreign_settings
from registry.storage.geopackage_schema import GEOPACKAGE_VERSION

__all__ = ["SHORT_NAMES", "write_layers"]

#: Fields of the shapefiles whose own names are too long.
SHORT_NAMES = {
    "charted_depth_m": "depth_m",
    "depth_u95_m": "depu95_m",
    "chart_datum": "datum",
    "least_depth_m": "mindepth_m",
    "greatest_depth_m": "maxdepth_m",
    "least_clearance_m": "minclear_m",
    "least_clearance_u95_m": "clru95_m",
    "first_placed": "first",
    "last_placed": "last",
}
LONGEST_FIELD_NAME = 10
LONGEST_FIELD_BYTES = 254
LABEL = "EPSG:4326"

Value = str | float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layer:
    """Rows of one kind."""

    name: str
    rows: Sequence[Mapping[str, Value]]
    shapes: Sequence[BaseGeometry]


def write_layers(site: PublicSite, path: Path) -> None:
    """
    Write a public site to a new file: ``.gpkg``, or ``.zip`` for shapefiles.

    The file appears whole or not at all. Layers: ``areas``, ``keep_outs``, ``modules``, those that have rows;
    as shapefiles, keep-outs are parted into ``keep_outs_points``, ``_lines`` and ``_areas``.

    Parameters
    ----------
    site : PublicSite
        What the public may see; WGS 84.
    path : Path
        Where to write; its ending chooses the format.

    Raises
    ------
    ConflictError
        If there is such a file.
    RequestError
        If the ending is another, the site has nothing to show, or a text is too long for a shapefile.
    UnwritableError
        If the folder is absent, full or read-only.
    """
    path = Path(path)
    writers = {".gpkg": _write_geopackage, ".zip": _write_shapefiles}
    write = writers.get(path.suffix.lower())
    if write is None:
        what = f"{path} ends with neither {' nor '.join(writers)}."
        raise RequestError(what, remedy="Choose .gpkg for a GeoPackage, or .zip for shapefiles.")
    if path.exists():
        raise ConflictError(f"There is a file {path}.", remedy="Give another name, or move it away first.")
    layers = [layer for layer in _layers(site) if layer.rows]
    if not layers:
        raise RequestError("There is nothing to export.", remedy="Add a permit area or place a module first.")
    try:
        with tempfile.TemporaryDirectory(prefix="leadline-") as folder:
            content = write(layers, site, Path(folder)).read_bytes()
    except (OSError, RuntimeError) as error:
        # What the library cannot write it raises as a RuntimeError.
        reason = error.strerror if isinstance(error, OSError) and error.strerror else error
        what = f"The layers for {path} cannot be drawn up: {reason}."
        raise UnwritableError(what, remedy="Free some space in the folder for temporary files.") from error
    write_file(path, content)


def _layers(site: PublicSite) -> Iterator[_Layer]:
    where: dict[str, Value] = {"frame": FRAME, "epoch": round(site.epoch, 1)}
    yield _Layer(
        name="areas",
        rows=[area_properties(area, site) | where for area in site.areas],
        shapes=[cut_at_antimeridian(area.shape) for area in site.areas],
    )
    yield _Layer(
        name="keep_outs",
        rows=[
            {"name": keep_out.name, "kind": keep_out.kind, "setback_m": keep_out.setback_m, **where}
            for keep_out in site.keep_outs
        ],
        shapes=[cut_at_antimeridian(keep_out.shape) for keep_out in site.keep_outs],
    )
    yield _Layer(
        name="modules",
        rows=[module_properties(module, site) for module in site.modules],
        shapes=[Point(rounded_position(module)) for module in site.modules],
    )


def _write_geopackage(layers: Sequence[_Layer], site: PublicSite, folder: Path) -> Path:
    made = folder / "layers.gpkg"
    said = filter(None, [f"Coordinates: {frame_words(site)}.", publication_words(site), *CAUTIONS])
    description = " ".join(said)
    with _dated(site):
        for layer in layers:
            _frame(layer).to_file(
                made,
                layer=layer.name,
                driver="GPKG",
                engine="pyogrio",
                mode="a" if made.exists() else "w",
                dataset_options=None if made.exists() else {"VERSION": GEOPACKAGE_VERSION},
                layer_options={"DESCRIPTION": description},
            )
    return made


def _write_shapefiles(layers: Sequence[_Layer], site: PublicSite, folder: Path) -> Path:
    for layer in chain.from_iterable(_by_kind(layer) for layer in layers):
        short = _Layer(
            name=layer.name,
            rows=[{SHORT_NAMES.get(name, name): value for name, value in row.items()} for row in layer.rows],
            shapes=layer.shapes,
        )
        _refuse_long(short)
        _frame(short).to_file(
            folder / f"{layer.name}.shp",
            driver="ESRI Shapefile",
            engine="pyogrio",
            encoding="UTF-8",
            layer_options={"DBF_DATE_LAST_UPDATE": site.issued_on.isoformat()},
        )
    made = folder / "layers.zip"
    said = filter(None, [f"Coordinates: {frame_words(site)}.", publication_words(site), *CAUTIONS])
    words = "\r\n".join([*said, ""])
    (folder / "README.txt").write_text(words, encoding="utf-8", newline="")
    parts = sorted(part for part in folder.iterdir() if part != made)
    stamp = (max(site.issued_on.year, 1980), site.issued_on.month, site.issued_on.day, 0, 0, 0)
    with zipfile.ZipFile(made, "w") as archive:
        for part in parts:
            entry = zipfile.ZipInfo(part.name, date_time=stamp)
            archive.writestr(entry, part.read_bytes(), compress_type=zipfile.ZIP_DEFLATED)
    return made


def _by_kind(layer: _Layer) -> Iterator[_Layer]:
    """Part a layer into those of one kind of geometry, as a shapefile wants it."""
    if layer.name != "keep_outs":
        yield layer
        return
    for ending, kind in (("points", "Point"), ("lines", "LineString"), ("areas", "Polygon")):
        rows, shapes = [], []
        for row, shape in zip(layer.rows, layer.shapes, strict=True):
            for part in single_parts(shape):
                if part.geom_type == kind:
                    rows.append(row)
                    shapes.append(part)
        if rows:
            yield _Layer(name=f"{layer.name}_{ending}", rows=rows, shapes=shapes)


def _refuse_long(layer: _Layer) -> None:
    for row in layer.rows:
        for name, value in row.items():
            if isinstance(value, str) and len(value.encode()) > LONGEST_FIELD_BYTES:
                what = (
                    f"{name} {value[:40]!r}... is longer than the {LONGEST_FIELD_BYTES} bytes of a shapefile."
                )
                raise RequestError(what, remedy="Export a GeoPackage.")


def _frame(layer: _Layer) -> Any:
    """Give a layer as a GeoDataFrame."""
    drop_foreign_settings()
    import geopandas

    columns = {name: [row[name] for row in layer.rows] for name in layer.rows[0]}
    return geopandas.GeoDataFrame(columns, geometry=list(layer.shapes), crs=LABEL)


@contextmanager
def _dated(site: PublicSite) -> Iterator[None]:
    """Have the day of issue written instead of the present: the same site gives the same file."""
    drop_foreign_settings()
    import pyogrio

    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": f"{site.issued_on.isoformat()}T00:00:00.000Z"})
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": None})
