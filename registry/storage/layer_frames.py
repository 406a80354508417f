"""Layers of an open registry as GeoDataFrames, read by SQL: GDAL never opens the live file."""

from typing import TYPE_CHECKING

from registry.errors import NotFoundError
from registry.storage.geopackage_blob import shape_from_blob
from registry.storage.geopackage_schema import LAYERS as SCHEMA_LAYERS
from registry.storage.register import GeoPackageRegister

if TYPE_CHECKING:
    import geopandas

__all__ = ["LAYERS", "layer_frame"]

LAYERS: tuple[str, ...] = tuple(layer.name for layer in SCHEMA_LAYERS)


def layer_frame(register: GeoPackageRegister, name: str) -> "geopandas.GeoDataFrame":
    """
    Read a layer.

    Parameters
    ----------
    register : GeoPackageRegister
        An open registry.
    name : str
        One of :data:`LAYERS`.

    Returns
    -------
    geopandas.GeoDataFrame
        One row each, with the home frame as its frame; longitude, latitude in degrees.

    Raises
    ------
    NotFoundError
        If there is no such layer.
    """
    import geopandas

    if name not in LAYERS:
        what = f"There is no layer {name!r}."
        raise NotFoundError(what, remedy=f"Layers: {', '.join(LAYERS)}.")
    with register.reading():
        cursor = register.connection.execute(f"SELECT * FROM {name} ORDER BY fid")  # noqa: S608, RUF100
        columns = [description[0] for description in cursor.description]
        rows = cursor.fetchall()
    data = {column: [row[place] for row in rows] for place, column in enumerate(columns)}
    shapes = [None if blob is None else shape_from_blob(blob) for blob in data.pop("geom")]
    return geopandas.GeoDataFrame(data, geometry=shapes, crs=register.programme().frame)
