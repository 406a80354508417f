"""The words for datum and epoch that stand beside a written position, told apart from its digits."""

import re
from dataclasses import dataclass

from registry.errors import PositionTextError
from registry.formats.angle_pair import quoted

__all__ = ["DATUM_NOT_STATED_R95_M", "DatumLabel", "frame_named", "read_datum_label"]

#: What the difference between NAD 27 and NAD 83 amounts to off the south-eastern United States, with
#: room for its doubt: 33 m at 33.75 N 78.2 W by the NADCON grids. Units: m.
DATUM_NOT_STATED_R95_M = 35.0

#: Name without blanks, hyphens and underscores to the code of its two-dimensional geographic frame.
#: Source: EPSG dataset as shipped with PROJ 9.5.1.
_FRAMES = {
    "WGS84": "EPSG:4326",
    "WGS1984": "EPSG:4326",
    "WGS84(G730)": "EPSG:9053",
    "WGS84(G873)": "EPSG:9054",
    "WGS84(G1150)": "EPSG:9055",
    "WGS84(G1674)": "EPSG:9056",
    "WGS84(G1762)": "EPSG:9057",
    "WGS84(G2139)": "EPSG:9755",
    "WGS84(G2296)": "EPSG:10606",
    "NAD83": "EPSG:4269",
    "NAD1983": "EPSG:4269",
    "NAD83(1986)": "EPSG:4269",
    "NAD83(2011)": "EPSG:6318",
    "NAD83(PA11)": "EPSG:6322",
    "NAD83(MA11)": "EPSG:6325",
    "NAD83(HARN)": "EPSG:4152",
    "NAD83(NSRS2007)": "EPSG:4759",
    "NAD83(CORS96)": "EPSG:6783",
    "NAD83(CSRS)": "EPSG:4617",
    "NAD27": "EPSG:4267",
    "NAD1927": "EPSG:4267",
    "ITRF2008": "EPSG:8999",
    "ITRF2014": "EPSG:9000",
    "ITRF2020": "EPSG:9990",
    "ETRS89": "EPSG:4258",
    "GDA94": "EPSG:4283",
    "GDA2020": "EPSG:7844",
}
_NAME = re.compile(
    r"(?<![A-Za-z0-9])(?:(?P<epsg>EPSG\s?:{1,2}\s?[0-9]{4,5})"
    r"|(?P<name>(?:NAD|WGS|ITRF|ETRS|GDA)[ _-]{0,2}(?:19)?[0-9]{2,4})"
    r"(?: ?\((?P<realisation>[A-Za-z0-9]{2,8})\))?)(?![A-Za-z0-9])",
    re.IGNORECASE,
)
_EPOCH = re.compile(
    r"(?<![A-Za-z])epoch\s{0,3}[:=]?\s{0,3}([12][0-9]{3}(?:\.[0-9]{1,6})?)(?![0-9.-])", re.IGNORECASE
)
_UNSTATED = re.compile(
    r"\(?(?:(?:datum|frame) (?:is )?(?:not stated|unstated|unknown|not known|not given)"
    r"|(?:unknown|unstated|no) datum|datum ?\?)\)?",
    re.IGNORECASE,
)
_WORDY = re.compile(r"[A-Za-z]{3}")


@dataclass(frozen=True, slots=True, kw_only=True)
class DatumLabel:
    """What the words beside the digits say."""

    #: The text without those words.
    rest: str
    #: Code of the frame, None where the text names none.
    frame: str | None = None
    #: Units: decimal year.
    epoch: float | None = None
    #: True where the text says that nobody knows.
    unknown: bool = False


def frame_named(name: str) -> str | None:
    """
    Give the code of a geographic frame by its name, None if the name is not known.

    Examples
    --------
    >>> frame_named("NAD 83 (2011)"), frame_named("WGS_84"), frame_named("Atlantis 99")
    ('EPSG:6318', 'EPSG:4326', None)
    """
    return _FRAMES.get(re.sub(r"[\s_-]", "", name).upper())


def read_datum_label(text: str, plain: str) -> DatumLabel:
    """
    Take the words for datum and epoch out of a written position.

    Raises
    ------
    PositionTextError
        If the text names two frames, or one that is not known.

    Examples
    --------
    >>> label = read_datum_label("", "33.75205, -78.2076 NAD83(2011) epoch 2010.0")
    >>> label.rest.strip(), label.frame, label.epoch
    ('33.75205, -78.2076', 'EPSG:6318', 2010.0)
    """
    if not _WORDY.search(plain):
        return DatumLabel(rest=plain)
    rest = _UNSTATED.sub(" ", plain)
    unknown = rest != plain
    epochs = set(_EPOCH.findall(rest))
    rest = _EPOCH.sub(" ", rest)
    frames = []
    for found in _NAME.finditer(rest):
        if found["epsg"]:
            frames.append("EPSG:" + found["epsg"].rpartition(":")[2].strip())
            continue
        name = found["name"] + (f"({found['realisation']})" if found["realisation"] else "")
        frame = frame_named(name)
        if frame is None:
            raise PositionTextError(
                f"{quoted(text)}: the datum {name} is not known here.",
                remedy="Write its EPSG code, as EPSG:6318.",
            )
        frames.append(frame)
    if len(set(frames)) > 1 or len(epochs) > 1 or (frames and unknown):
        raise PositionTextError(
            f"{quoted(text)} says two things of its datum or epoch.", remedy="Name one datum and one epoch."
        )
    if frames:
        rest = _NAME.sub(" ", rest)
    return DatumLabel(
        rest=rest,
        frame=frames[0] if frames else None,
        epoch=float(epochs.pop()) if epochs else None,
        unknown=unknown,
    )
