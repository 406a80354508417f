"""What a certificate states, as its paper writes it."""

from collections.abc import Mapping
from typing import Any

from registry.formats.printed_position import write_dd, write_ddm
from registry.measure.digits import Notation, coordinate_decimals, metres_decimals
from registry.records.certificate import place_words

__all__ = ["statement_lines"]


def statement_lines(statement: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    """
    Give what is stated line by line, each with its label; a line without one goes on with the line before.

    Parameters
    ----------
    statement : mapping
        Of a certificate, proved.
    """
    lat_deg, lon_deg, r95_m = statement["lat"], statement["lon"], statement["r95_m"]
    minutes = write_ddm(lat_deg, lon_deg, decimals=coordinate_decimals(Notation.MINUTES, r95_m))
    degrees = write_dd(lat_deg, lon_deg, decimals=coordinate_decimals(Notation.DEGREES, r95_m))
    place = place_words(statement["reef"], statement.get("outside_m", 0.0))
    depth = "not measured"
    if statement["depth_m"] is not None:
        u95_m = statement["depth_u95_m"]
        places = metres_decimals(u95_m)
        depth = f"{statement['depth_m']:.{places}f} ± {u95_m:.{places}f} m (95 %) below {statement['datum']}"
    return (
        ("Name", statement["name"]),
        ("Module", f"{statement['tag']}, {place}, permit {statement['permit']}"),
        ("Place", minutes),
        ("", degrees),
        ("", f"in {statement['frame']}, epoch {statement['epoch']:.1f}"),
        ("Within", f"{r95_m:.{metres_decimals(r95_m)}f} m (95 %)"),
        ("Depth", depth),
        ("Placed", statement["placed"]),
        *(
            [("Found", f"{statement['found']}, where a survey found it moved")]
            if "found" in statement
            else []
        ),
        ("Issued", f"{statement['issued']} by {statement['programme']}"),
        *([("Copy", _copy_words(statement))] if "duplicate" in statement else []),
        ("Journal", f"{statement['journal']}, to check with leadline journal verify --head"),
    )


def _copy_words(statement: Mapping[str, Any]) -> str:
    return f"duplicate {statement['duplicate']}, made on {statement['duplicated']}"
