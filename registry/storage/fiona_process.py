"""
The only user of fiona, run as a process of its own: JSON comes in as one argument, JSON goes out as one line.

Apart for two reasons. The library may crash on a damaged file, and must not take a registry that is open with
it; and closing a file here can drop no lock that the registry's process holds. The module imports nothing of
Leadline, so that it runs as a script wherever it lies.

Sources
-------
POSIX locks belong to a process, not to a file handle: fcntl(2), "advisory record locking".
"""

import json
import sys
from typing import Any

__all__ = ["answer"]

NAME_FIELDS = ("name", "id", "area", "title", "label")


def answer(request: dict[str, Any]) -> dict[str, Any]:
    """
    Read a layer.

    Parameters
    ----------
    request : dict
        "target" and "driver" as fiona takes them; "layer", or None for the only one.

    Returns
    -------
    dict
        "layers"; where one of them was meant, also "layer", "wkt" (empty if no frame is stated) and
        "features": name and geometry (GeoJSON, None if it has none) of each. Or only "error".
    """
    import fiona

    # KML is built into the library but not switched on.
    options = {"driver": request["driver"], "allow_unsupported_drivers": True}
    try:
        layers = fiona.listlayers(request["target"])
        layer = request["layer"] or (layers[0] if len(layers) == 1 else None)
        if layer not in layers:
            return {"layers": layers}
        with fiona.open(request["target"], layer=layer, **options) as source:
            features = [[_name(feature), _plain(feature.geometry)] for feature in source]
            return {"layers": layers, "layer": layer, "wkt": source.crs_wkt, "features": features}
    except Exception as error:
        # Whatever the library raises means the same to the person: this file cannot be read.
        return {"error": " ".join(str(error).split()).rstrip(".") or type(error).__name__}


def _name(feature: Any) -> str:
    known = {key.casefold(): value for key, value in feature.properties.items()}
    for field in NAME_FIELDS:
        value = known.get(field)
        if value is not None and str(value).strip():
            return str(value).strip()
    return str(feature.id)


def _plain(geometry: Any) -> Any:
    return None if geometry is None else geometry.__geo_interface__


if __name__ == "__main__":
    print(json.dumps(answer(json.loads(sys.argv[1]))))  # noqa: T201
