"""
The findings of an audit as layers for desktop GIS: a GeoPackage in the registry's home frame.

Layers: ``placements`` with the verdict of each and the rule that it comes from, ``findings`` with one row for
each placement and condition (of very many, only what is flagged), ``permit_areas``, and keep-outs as points,
lines and areas, since a GIS draws a layer of one kind only. Numbers are as they were computed, not rounded:
each verdict can be worked out again from ``measured``, ``limit_value`` and ``u95``. How each layer is drawn
stands in ``layer_styles``.

Sources
-------
OGC GeoPackage 1.3.
"""

import os
import tempfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiLineString, MultiPoint, MultiPolygon
from shapely.geometry.base import BaseGeometry

from registry.errors import ConflictError, UnwritableError
from registry.measure.antimeridian_cut import cut_at_antimeridian, single_parts
from registry.measure.decision import Verdict
from registry.records.audit_scope import scope_words
from registry.records.audit_summary import AuditSummary, PermitSummary
from registry.records.entry import instant_text
from registry.records.finding import Findings
from registry.storage.files import sync_folder
from registry.storage.foreign_settings import drop_foreign_settings
from registry.storage.geopackage_schema import GEOPACKAGE_VERSION
from registry.storage.layer_styles import add_layer_styles

__all__ = ["write_findings_layers"]

#: Columns of the two layers of points; a text has the kind object.
PLACEMENT_COLUMNS: dict[str, type] = {
    **dict.fromkeys(("permit", "tag", "verdict", "worst_rule", "area", "module_type", "placed_at"), object),
    **dict.fromkeys(("r95_m", "depth_m", "depth_u95_m", "height_m", "base_radius_m"), float),
    "placement_id": object,
}
FINDING_COLUMNS: dict[str, type] = {
    **dict.fromkeys(("permit", "placement", "rule", "verdict"), object),
    **dict.fromkeys(("measured", "limit_value", "u95"), float),
    **dict.fromkeys(("unit", "cite", "message", "placement_id"), object),
}
#: Keep-outs by the kind of their parts.
KEEP_OUT_LAYERS = (
    ("keep_out_points", "MultiPoint", MultiPoint, "Point"),
    ("keep_out_lines", "MultiLineString", MultiLineString, "LineString"),
    ("keep_out_areas", "MultiPolygon", MultiPolygon, "Polygon"),
)
#: Name, kind of geometry, columns and shapes.
_LayerRows = tuple[str, str, dict[str, Any], Sequence[BaseGeometry] | NDArray[np.object_]]
#: Placements that are written in one go, or little more.
MOST_ROWS = 100_000
WORDS = np.array([verdict.word for verdict in Verdict], dtype=object)


def write_findings_layers(summary: AuditSummary, path: Path, *, live: Path | None = None) -> None:
    """
    Write an audit as a GeoPackage; the file appears whole or not at all, in place of an older one.

    Parameters
    ----------
    summary : AuditSummary
        What the audit found.
    path : Path
        Where to write.
    live : Path, optional
        The registry itself, which is never written over.

    Raises
    ------
    ConflictError
        If the path is that of the registry itself.
    UnwritableError
        If the folder is absent, full or read-only.
    """
    path = Path(path)
    if live is not None and path.resolve() == Path(live).resolve():
        what = f"{path} is the registry itself."
        raise ConflictError(what, remedy="Give another folder for what the audit writes.")
    try:
        # Beside its place, so that a large file is renamed and not carried through memory.
        with tempfile.TemporaryDirectory(prefix=".leadline-", dir=path.parent) as folder:
            made = _written(summary, Path(folder) / "findings.gpkg")
            with made.open("rb+") as stream:
                os.fsync(stream.fileno())
            made.replace(path)
        sync_folder(path)
    except (OSError, RuntimeError) as error:
        # What the library cannot write it raises as a RuntimeError.
        reason = error.strerror if isinstance(error, OSError) and error.strerror else error
        what = f"{path} cannot be written: {reason}."
        remedy = "Free some space, or choose a folder that exists and may be written."
        raise UnwritableError(what, remedy=remedy) from error


def _written(summary: AuditSummary, made: Path) -> Path:
    drop_foreign_settings()
    import geopandas

    scope = scope_words(summary.as_of, summary.on, instant_text)
    description = (
        f"Coordinates: {summary.frame_name} ({summary.frame}), epoch {summary.frame_epoch:g}. {scope} "
        f"Journal head {summary.journal_head}. An aid to the audit of a permit, not the permit itself."
    )
    if summary.problems:
        description = f"The registry is not as it was written; nothing here is proved. {description}"
    names: list[tuple[str, str]] = []
    with _dated(summary):
        for name, kind, columns, shapes in _layers(summary):
            begun = (name, "geom") in names
            names += [] if begun else [(name, "geom")]
            geopandas.GeoDataFrame(columns, geometry=list(shapes), crs=summary.frame).to_file(
                made,
                layer=name,
                driver="GPKG",
                engine="pyogrio",
                mode="a" if made.exists() else "w",
                geometry_type=kind,
                promote_to_multi=False,
                dataset_options=None if made.exists() else {"VERSION": GEOPACKAGE_VERSION},
                layer_options=None if begun else {"DESCRIPTION": description},
            )
    add_layer_styles(made, names, at=summary.audited_at)
    return made


def _layers(summary: AuditSummary) -> Iterator[_LayerRows]:
    """
    Give name, kind of geometry, columns and shapes of each layer; one without rows keeps its columns.

    The placements come in several goes where there are many, since each becomes a row of objects.
    """
    permits = summary.permits
    ends = np.cumsum([len(each.placements) for each in permits])
    goes = np.searchsorted(ends, np.arange(MOST_ROWS, ends[-1] if len(ends) else 0, MOST_ROWS)) + 1
    cuts = [0, *np.unique(goes).tolist(), len(permits)]
    for first, end in pairwise(cuts):
        some = permits[first:end]
        if some or not permits:
            yield (
                "placements",
                "Point",
                _stacked([_placements(each) for each in some], PLACEMENT_COLUMNS),
                np.concatenate([np.empty(0, dtype=object), *(_points(each) for each in some)]),
            )
    everything = summary.all_findings_written
    found = [
        (each, one.findings, np.arange(len(each.placements)) if everything else one.flagged())
        for each in permits
        for one in each.conditions
    ]
    yield (
        "findings",
        "Point",
        _stacked([_findings(each, findings, rows) for each, findings, rows in found], FINDING_COLUMNS),
        np.concatenate([np.empty(0, dtype=object), *(_points(each)[rows] for each, _, rows in found)]),
    )
    areas = [(each.permit.number, area) for each in permits for area in each.permit.areas]
    yield (
        "permit_areas",
        "MultiPolygon",
        {
            "permit": _texts(number for number, _ in areas),
            "area": _texts(area.area_id for _, area in areas),
            "edges": _texts(area.edges for _, area in areas),
            "stated_frame": _texts(area.frame for _, area in areas),
            "operation": _texts(area.operation for _, area in areas),
        },
        [_gathered(MultiPolygon, single_parts(cut_at_antimeridian(area.shape))) for _, area in areas],
    )
    for layer, kind, gathered, part in KEEP_OUT_LAYERS:
        yield _keep_outs(summary, layer, kind, gathered, part)


def _keep_outs(
    summary: AuditSummary, layer: str, kind: str, gathered: type[BaseGeometry], part: str
) -> _LayerRows:
    """Give the keep-outs that have parts of a kind, with those parts."""
    chosen = []
    for each in summary.keep_outs:
        parts = [one for one in single_parts(cut_at_antimeridian(each.shape)) if one.geom_type == part]
        if parts:
            chosen.append((each, _gathered(gathered, parts)))
    columns = {
        "keep_out": _texts(each.keep_out_id for each, _ in chosen),
        "kind": _texts(each.kind for each, _ in chosen),
        "name": _texts(each.name for each, _ in chosen),
        "setback_m": np.array([each.setback_m for each, _ in chosen], dtype=float),
    }
    return layer, kind, columns, [shape for _, shape in chosen]


def _gathered(kind: Any, parts: Iterable[BaseGeometry]) -> BaseGeometry:
    """Put parts together; typed loosely, since each kind takes parts of its own."""
    shape: BaseGeometry = kind(list(parts))
    return shape


def _placements(permit: PermitSummary) -> dict[str, NDArray[Any]]:
    p = permit.placements
    return {
        "permit": p.permit,
        "tag": p.tag,
        "verdict": WORDS[permit.verdict],
        "worst_rule": permit.worst_rule,
        "area": permit.area,
        "module_type": p.module_type,
        "placed_at": _instants(p.placed_at_s),
        "r95_m": p.r95_m,
        "depth_m": p.depth_m,
        "depth_u95_m": p.depth_u95_m,
        "height_m": p.height_m,
        "base_radius_m": p.base_radius_m,
        "placement_id": p.placement_id,
    }


def _findings(permit: PermitSummary, found: Findings, rows: NDArray[np.intp]) -> dict[str, NDArray[Any]]:
    """Give the columns of some rows: what nobody reads is not worded."""
    count = len(rows)
    return {
        "permit": permit.placements.permit[rows],
        "placement": permit.placements.tag[rows],
        "rule": _texts([found.rule] * count),
        "verdict": WORDS[found.verdict[rows]],
        "measured": np.asarray(found.measured, dtype=float)[rows],
        "limit_value": np.asarray(found.limit, dtype=float)[rows],
        "u95": np.asarray(found.u95, dtype=float)[rows],
        "unit": _texts([found.unit] * count),
        "cite": _texts([found.cite] * count),
        "message": _texts(found.message[row] for row in rows.tolist()),
        "placement_id": permit.placements.placement_id[rows],
    }


def _points(permit: PermitSummary) -> NDArray[np.object_]:
    return np.asarray(shapely.points(permit.placements.lon_deg, permit.placements.lat_deg), dtype=object)


def _instants(seconds: NDArray[np.float64]) -> NDArray[np.object_]:
    """Write instants as UTC, as the registry does: a text that no program shifts into its own zone."""
    rounded = np.round(seconds * 1000).astype("datetime64[ms]")
    return _texts(np.datetime_as_string(rounded, timezone="UTC").tolist())


def _texts(words: Iterable[str]) -> NDArray[np.object_]:
    listed = list(words)
    column = np.empty(len(listed), dtype=object)
    column[:] = listed
    return column


def _stacked(parts: Sequence[dict[str, NDArray[Any]]], kinds: Mapping[str, type]) -> dict[str, NDArray[Any]]:
    """Put the columns of several permits one below the other; those of none are empty."""
    return {
        name: np.concatenate([np.empty(0, dtype=kind), *(part[name] for part in parts)])
        for name, kind in kinds.items()
    }


@contextmanager
def _dated(summary: AuditSummary) -> Iterator[None]:
    """Have the instant of the audit written instead of the present: the same audit gives the same file."""
    import pyogrio

    instant = summary.audited_at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.000Z")
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": instant})
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": None})
