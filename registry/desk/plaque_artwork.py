"""A plaque drawn for a module: worded, set in letters, and told from any other by its digest."""

import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from registry.actions.locate_module import Located
    from registry.documents.plaque import Artwork
    from registry.ports import Register
    from registry.records.plaque import Plaque
    from registry.records.plaque_wording import PlaqueWording

__all__ = ["DrawnPlaque", "draw_wording", "drawn_plaque"]


@dataclass(frozen=True, slots=True)
class DrawnPlaque:
    """A plaque, and what it rests on."""

    plaque: "Plaque"
    artwork: "Artwork"
    located: "Located"

    @property
    def sha256(self) -> str:
        """Digest of the drawing (SVG), in hexadecimal."""
        return hashlib.sha256(self.artwork.svg.encode()).hexdigest()

    def pdf(self) -> bytes:
        """Give the same drawing as PDF."""
        from registry.documents.plaque import plaque_pdf

        return plaque_pdf(self.artwork, f"Plaque of {self.plaque.name}")


def drawn_plaque(
    register: "Register",
    tag: str,
    *,
    size: str,
    on: datetime,
    heading: str,
    dates: str,
    words: Sequence[str],
    frame: str = "WGS 84",
    notation: Literal["ddm", "dd", "dms"] = "ddm",
    single_stroke: bool = False,
    qr: bool = False,
) -> DrawnPlaque:
    """
    Draw the plaque of a module.

    Parameters
    ----------
    register : Register
        Read from.
    tag : str
        Of the module.
    size : str
        Of the plate, as "150x100mm".
    on : datetime.datetime
        For which the coordinates hold.
    heading, dates : str
        As the family wants them; may be empty.
    words : sequence of str
        Further lines.
    frame, notation : str
        Of the coordinates.
    single_stroke : bool
        Lines to be followed once, instead of outlines.
    qr : bool
        With a code that opens the position on a telephone.

    Raises
    ------
    LeadlineError
        If the size cannot be read, the module was not placed or remembers nobody, or the text does not fit.
    """
    from registry.actions.locate_module import locate_module
    from registry.actions.word_plaque import word_plaque
    from registry.documents.outlined_letters import OutlinedLetters
    from registry.documents.plaque import draw_plaque
    from registry.documents.stroked_letters import StrokedLetters
    from registry.formats.geo_uri import write_geo_uri
    from registry.formats.plate_size import read_plate_size
    from registry.formats.printed_position import write_dd, write_ddm, write_dms
    from registry.measure.digits import Notation, coordinate_decimals
    from registry.storage.shipped import shipped_path

    write, parts = {
        "ddm": (write_ddm, Notation.MINUTES),
        "dd": (write_dd, Notation.DEGREES),
        "dms": (write_dms, Notation.SECONDS),
    }[notation]

    def write_position(lat_deg: float, lon_deg: float, r95_m: float) -> tuple[str, str]:
        text = write(lat_deg, lon_deg, decimals=coordinate_decimals(parts, r95_m))
        latitude, longitude = re.split(r"(?<=[NS]) ", text)
        return latitude, longitude

    def write_code(lat_deg: float, lon_deg: float, r95_m: float) -> str:
        decimals = coordinate_decimals(Notation.DEGREES, r95_m)
        return write_geo_uri(lat_deg, lon_deg, r95_m, decimals=decimals)

    plate = read_plate_size(size)
    located = locate_module(register, tag, on=on, frame=frame)
    plaque = word_plaque(
        register,
        located,
        write_position=write_position,
        write_code=write_code if qr else None,
        heading=heading,
        dates=dates,
        words=words,
    )
    fonts = shipped_path("fonts")
    letters = StrokedLetters(fonts) if single_stroke else OutlinedLetters(fonts)
    return DrawnPlaque(plaque, draw_plaque(plaque, plate, letters), located)


def draw_wording(
    register: "Register", tag: str, wording: "PlaqueWording", *, single_stroke: bool = False
) -> DrawnPlaque:
    """Draw the plaque as a family wishes it; errors as of :func:`drawn_plaque`."""
    from registry.formats.check_survey import read_time

    return drawn_plaque(
        register,
        tag,
        size=wording.size,
        on=read_time(wording.on.isoformat(), register.programme().zone),
        heading=wording.heading,
        dates=wording.dates,
        words=wording.words,
        single_stroke=single_stroke,
    )
