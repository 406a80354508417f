"""
Positions on a projected grid: EPSG code with easting and northing, UTM zone, MGRS, state plane.

Each comes out as latitude and longitude in the geographic frame on which the grid is built, without any
change of datum. A grid reference that does not say its zone or datum is refused or asked about: the same UTM
digits lie 200 m apart on NAD 27 and NAD 83.

Sources
-------
Projections and codes: EPSG dataset by PROJ. MGRS: NGA GEOTRANS, which gives the south-west corner of the
square.
"""

import math
import re
import warnings
from functools import lru_cache
from typing import Any

from registry.errors import AmbiguousPositionError, PositionTextError
from registry.formats.angle_pair import quoted
from registry.formats.datum_label import DatumLabel
from registry.formats.plain_text import plain_text
from registry.records.written_position import Notation, WrittenPosition

__all__ = [
    "is_projected",
    "looks_like_grid",
    "read_coded_grid",
    "read_grid_position",
    "read_grid_reference",
]

_METRES_PER_DEG = 111_320.0
_BANDS = "CDEFGHJKLMNPQRSTUVWX"
_NUMBER = r"[0-9]{1,9}(?:\.[0-9]{1,9})?"

_COORDINATES = re.compile(
    rf"[\s,;:]*(?:(?P<e>E|X)[\s:=]*)?(?P<first>-?{_NUMBER})\s*(?:m\s*)?(?P<e2>E)?[\s,;]+"
    rf"(?:(?P<n>N|Y)[\s:=]*)?(?P<second>-?{_NUMBER})\s*(?:m\s*)?(?P<n2>N)?[\s,;]*",
    re.IGNORECASE,
)
_NORTHING_FIRST = re.compile(
    rf"[\s,;:]*N[\s:=]*(?P<second>-?{_NUMBER})[\s,;]+E[\s:=]*(?P<first>-?{_NUMBER})[\s,;]*", re.IGNORECASE
)
_UTM = re.compile(
    rf"(?:UTM\s*)?(?:zone\s*)?(?P<zone>[0-9]{{1,2}})\s*(?P<letter>[A-Z])[\s,:]+"
    rf"(?P<rest>(?:E[\s:=]*)?[0-9]{{5,7}}(?:\.[0-9]{{1,9}})?\s*(?:m\s*)?E?[\s,;]+(?:N[\s:=]*)?{_NUMBER}"
    r"\s*(?:m\s*)?N?)[\s,;]*",
    re.IGNORECASE,
)
_MGRS = re.compile(
    r"(?P<zone>[0-9]{1,2})\s*(?P<band>[A-Z])\s*(?P<square>[A-Z]{2})\s*(?P<east>[0-9]*)\s*(?P<north>[0-9]*)",
    re.IGNORECASE,
)
_MGRS_WITHOUT_ZONE = re.compile(r"[A-HJ-NP-Z]{2}\s*[0-9]{1,5}\s*[0-9]{1,5}", re.IGNORECASE)
_AREA_CODE = re.compile(r"[23456789CFGHJMPQRVWX]{2,8}\+[23456789CFGHJMPQRVWX]{0,4}", re.IGNORECASE)
_TIME_DIFFERENCES = re.compile(r"loran|\btds?\b", re.IGNORECASE)
_STATE_PLANE = re.compile(r"\bSPCS\b|\bSPC\b|state ?plane", re.IGNORECASE)
_ZONE_NUMBER = re.compile(r"\b(?:zone\s*)?([0-9]{3,4})\b(?![.0-9])", re.IGNORECASE)
_LINEAR_UNIT = re.compile(
    r"\b(?P<ftus>(?:U\.?S\.? ?)?survey (?:feet|foot|ft)|ftus|us[- ]ft|sft)\b"
    r"|\b(?P<ift>international (?:feet|foot|ft)|ift)\b|\b(?P<m>met(?:re|er)s?|m)\b"
    r"|\b(?P<feet>feet|foot|ft)\b",
    re.IGNORECASE,
)
_EASTING_NORTHING = re.compile(
    rf"\bE[\s:=]*(?P<east>{_NUMBER})[\s,;]+N[\s:=]*(?P<north>{_NUMBER})"
    rf"|\bN[\s:=]*(?P<north2>{_NUMBER})[\s,;]+E[\s:=]*(?P<east2>{_NUMBER})",
    re.IGNORECASE,
)
#: Frame to the words with which EPSG names its grids, and how many UTM codes lie before zone 1.
_DATUM_OF_FRAME = {
    "EPSG:4326": ("WGS 84", 32600),
    "EPSG:4269": ("NAD83", 26900),
    "EPSG:4267": ("NAD27", 26700),
    "EPSG:6318": ("NAD83(2011)", 6329),
    "EPSG:4152": ("NAD83(HARN)", None),
    "EPSG:4759": ("NAD83(NSRS2007)", None),
}
#: Round trip beyond which a grid coordinate lies outside what its projection can say. Units: m.
_ROUND_TRIP_M = 0.01
#: How far outside the area for which a grid is made a position is taken without a word (the areas of state
#: plane zones end at the shore), and how far it is believed at all. Units: degrees.
_NEAR_AREA_DEG = 1.0
_BEYOND_AREA_DEG = 3.0


@lru_cache(maxsize=64)
def _crs(code: str) -> Any:
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    try:
        return CRS.from_user_input(code)
    except CRSError:
        return None


@lru_cache(maxsize=64)
def _to_geographic(code: str) -> Any:
    from pyproj import Transformer

    crs = _crs(code)
    return Transformer.from_crs(crs, crs.geodetic_crs, always_xy=True)


def is_projected(text: str, code: str) -> bool:
    """
    Tell a projected grid from a geographic frame.

    Raises
    ------
    PositionTextError
        If the code is not in the EPSG dataset or is neither.

    Examples
    --------
    >>> is_projected("", "EPSG:32617"), is_projected("", "EPSG:6318")
    (True, False)
    """
    crs = _crs(code)
    if crs is None or not (crs.is_projected or (crs.is_geographic and len(crs.axis_info) == 2)):
        raise PositionTextError(
            f"{quoted(text)}: {code} is no known grid or two-dimensional geographic frame.",
            remedy="Check the EPSG code.",
        )
    return bool(crs.is_projected)


def read_coded_grid(text: str, label: DatumLabel) -> WrittenPosition:
    """
    Read easting and northing on the grid whose EPSG code the text names, in the unit of that grid.

    Raises
    ------
    PositionTextError
        If there are not two numbers, or they lie outside the area of the grid.

    Examples
    --------
    >>> label = DatumLabel(rest=" 758658.400 3738167.977", frame="EPSG:32617")
    >>> position = read_coded_grid("", label)
    >>> round(position.lat_deg, 6), round(position.lon_deg, 6), position.frame
    (33.75205, -78.2076, 'EPSG:4326')
    """
    code = label.frame or ""
    found = _NORTHING_FIRST.fullmatch(label.rest) or _COORDINATES.fullmatch(label.rest)
    if found is None:
        raise PositionTextError(
            f"{quoted(text)}: no easting and northing were found beside {code}.",
            remedy="Write EPSG:32617 758658.400 3738167.977, easting first.",
        )
    utm = re.fullmatch(r"EPSG:(?:326|327|269|267)[0-9]{2}", code)
    return _on_grid(text, code, (found["first"], found["second"]), "utm" if utm else "grid", label.epoch)


def looks_like_grid(text: str) -> bool:
    """
    Tell whether a text is an easting and a northing and nothing else, so that only the grid is missing.

    Examples
    --------
    >>> looks_like_grid("758658.4 3738167.977"), looks_like_grid("N 3738167.977 E 758658.4")
    (True, True)
    >>> looks_like_grid("N 34.02 E 77.33"), looks_like_grid("34 01.250 N 077 20.110 W")
    (False, False)
    """
    plain = plain_text(text)
    found = _NORTHING_FIRST.fullmatch(plain) or _COORDINATES.fullmatch(plain)
    if found is None:
        return False
    # With letters, small numbers are a latitude and a longitude behind their hemispheres.
    lettered = any(letter.isalpha() for letter in plain)
    return not lettered or max(abs(float(found["first"])), abs(float(found["second"]))) > 360.0


def read_grid_position(text: str, code: str) -> WrittenPosition:
    """
    Read easting and northing on a grid that is stated beside them, in the unit of that grid.

    Parameters
    ----------
    text : str
        Two numbers, easting first, or with E and N before or behind them.
    code : str
        EPSG code of a projected grid, as "EPSG:32617".

    Raises
    ------
    PositionTextError
        If the code is no grid, there are not two numbers, or they lie outside the area of the grid.

    Examples
    --------
    >>> position = read_grid_position("758658.400 3738167.977", "EPSG:32617")
    >>> round(position.lat_deg, 6), round(position.lon_deg, 6), position.frame, position.grid
    (33.75205, -78.2076, 'EPSG:4326', 'EPSG:32617')
    """
    if not is_projected(text, code):
        raise PositionTextError(
            f"{quoted(text)}: {code} is no grid of eastings and northings.",
            remedy="Name the grid, as EPSG:32617 for UTM zone 17 north on WGS 84.",
        )
    return read_coded_grid(text, DatumLabel(rest=plain_text(text), frame=code))


def read_grid_reference(text: str, label: DatumLabel) -> WrittenPosition | None:
    """
    Read a UTM, MGRS or state plane reference; None if the text is none of them.

    Raises
    ------
    AmbiguousPositionError
        If a datum, hemisphere or foot is missing, with the readings.
    PositionTextError
        If the reference contradicts itself or does not determine a place.

    Examples
    --------
    >>> square = read_grid_reference("", DatumLabel(rest="17SQT58653816"))
    >>> round(square.lat_deg, 6), round(square.extra_r95_m, 1)
    (33.752024, 14.1)
    """
    plain = label.rest.strip()
    if _STATE_PLANE.search(plain):
        return _state_plane(text, label)
    if found := _UTM.fullmatch(plain):
        return _utm(text, found, label)
    if found := _MGRS.fullmatch(plain):
        return _mgrs(text, found, label)
    if _MGRS_WITHOUT_ZONE.fullmatch(plain):
        raise PositionTextError(
            f"{quoted(text)} is an MGRS square without its grid zone, which repeats around the world.",
            remedy="Put the zone in front, as 17SQT5865838167.",
        )
    if _AREA_CODE.fullmatch(plain):
        raise PositionTextError(
            f"{quoted(text)} is the code of an area of some 14 m by 12 m, not a surveyed coordinate.",
            remedy="Give latitude and longitude from the receiver.",
        )
    if _TIME_DIFFERENCES.search(plain):
        raise PositionTextError(
            f"{quoted(text)} gives time differences, not a latitude and longitude; a conversion would need"
            " the chain and be wrong by hundreds of metres.",
            remedy="Give latitude and longitude from a satellite receiver.",
        )
    return None


def _on_grid(
    text: str, code: str, numbers: tuple[str, str], notation: Notation, epoch: float | None
) -> WrittenPosition:
    easting, northing = numbers
    east, north = float(easting), float(northing)
    crs = _crs(code)
    lon, lat = _to_geographic(code).transform(east, north)
    if abs(east) <= 180 and abs(north) <= 180:
        raise PositionTextError(
            f"{quoted(text)}: {easting} and {northing} look like degrees, and {code} ({crs.name}) is a grid.",
            remedy="Name the geographic frame of the degrees, as EPSG:6318, or give easting and northing.",
        )
    outside = f"{quoted(text)}: easting {easting} and northing {northing} lie outside {code} ({crs.name})"
    remedy = "Check the code, the unit, and that the easting comes first."
    if not (math.isfinite(lon) and math.isfinite(lat) and abs(lat) <= 90):
        raise PositionTextError(f"{outside}.", remedy=remedy)
    back = _to_geographic(code).transform(lon, lat, direction="INVERSE")
    unit = crs.axis_info[0].unit_conversion_factor
    if math.dist(back, (east, north)) * unit > _ROUND_TRIP_M:
        raise PositionTextError(f"{outside}.", remedy=remedy)
    beyond = _beyond_area(crs.area_of_use, lat, lon)
    if beyond > _BEYOND_AREA_DEG:
        raise PositionTextError(f"{outside}: at {lat:.1f}, {lon:.1f} degrees.", remedy=remedy)
    warnings = (
        (f"The position lies outside the area for which {crs.name} is made.",)
        if beyond > _NEAR_AREA_DEG
        else ()
    )
    base = crs.geodetic_crs.to_authority()
    resolutions = []
    for digits, metres in ((northing, _METRES_PER_DEG), (easting, _METRES_PER_DEG * _cosine(lat))):
        resolutions.append(10.0 ** -len(digits.partition(".")[2]) * unit / metres)
    return WrittenPosition(
        text=text,
        lat_deg=lat,
        lon_deg=lon,
        notation=notation,
        frame=":".join(base) if base else None,
        epoch=epoch,
        resolution_lat_deg=resolutions[0],
        resolution_lon_deg=resolutions[1],
        warnings=warnings,
        grid=code,
        easting=east,
        northing=north,
    )


def _cosine(lat: float) -> float:
    return max(math.cos(math.radians(lat)), 1e-6)


def _beyond_area(area: Any, lat: float, lon: float) -> float:
    """Tell by how many degrees a position lies outside the area of a grid; 0 where none is given."""
    if area is None:
        return 0.0
    width = (area.east - area.west) % 360 or 360.0
    from_west = (lon - area.west) % 360
    beyond_lon = 0.0 if from_west <= width else min(from_west - width, 360 - from_west)
    return float(max(beyond_lon, lat - area.north, area.south - lat, 0.0))


def _utm(text: str, found: re.Match[str], label: DatumLabel) -> WrittenPosition:
    zone, letter = int(found["zone"]), found["letter"].upper()
    if not 1 <= zone <= 60:
        raise PositionTextError(f"{quoted(text)}: UTM zones run from 1 to 60.", remedy="Check the zone.")
    if letter not in _BANDS:
        raise PositionTextError(
            f"{quoted(text)}: {letter} is no latitude band of UTM.",
            remedy="Bands run from C to X without I and O.",
        )
    numbers = _COORDINATES.fullmatch(found["rest"])
    if numbers is None:
        raise PositionTextError(
            f"{quoted(text)}: no easting and northing were found.",
            remedy="Write EPSG:32617 758658.400 3738167.977, easting first.",
        )
    easting, northing = numbers["first"], numbers["second"]
    south_sides = _hemispheres(text, zone, letter, easting, northing)
    if label.frame in _DATUM_OF_FRAME:
        first = _DATUM_OF_FRAME[label.frame][1]
        codes = [code for south in south_sides if (code := _utm_code(label.frame, first, zone, south))]
    elif label.frame is None:
        codes = [f"EPSG:{(32700 if south else 32600) + zone}" for south in south_sides]
        if False in south_sides:
            codes += [f"EPSG:{26900 + zone}", f"EPSG:{26700 + zone}"]
        codes = [code for code in codes if _crs(code) is not None]
    else:
        codes = []
    if not codes:
        raise PositionTextError(
            f"{quoted(text)}: no UTM grid of zone {zone} is known for this datum.",
            remedy="Write the EPSG code of the grid, as EPSG:32617 758658.400 3738167.977.",
        )
    if len(codes) > 1 or label.frame is None:
        raise AmbiguousPositionError(
            f"{quoted(text)} names a UTM zone but not "
            + (
                "its datum; the same numbers on NAD 27 lie some 200 m away."
                if label.frame is None
                else "whether S is the band from 32 to 40 N or the southern hemisphere."
            ),
            remedy="Type the grid by its code.",
            readings=_possible(text, codes, (easting, northing)),
        )
    return _on_grid(text, codes[0], (easting, northing), "utm", label.epoch)


def _utm_code(frame: str, first: int | None, zone: int, south: bool) -> str | None:  # noqa: FBT001
    if first is None or (south and frame != "EPSG:4326"):
        return None
    code = f"EPSG:{first + zone + (100 if south else 0)}"
    crs = _crs(code)
    return code if crs is not None and f"UTM zone {zone}" in crs.name else None


def _hemispheres(text: str, zone: int, letter: str, easting: str, northing: str) -> tuple[bool, ...]:
    """Tell on which sides of the equator the northing may count: False north, True south."""
    from pyproj.exceptions import ProjError

    def latitude(south: bool) -> float:  # noqa: FBT001
        code = f"EPSG:{(32700 if south else 32600) + zone}"
        try:
            return float(_to_geographic(code).transform(float(easting), float(northing), errcheck=True)[1])
        except ProjError:
            return math.inf

    band_south = letter < "N"
    lowest = -80 + 8 * _BANDS.index(letter)
    highest = 84 if letter == "X" else lowest + 8
    lat = latitude(band_south)
    in_band = lowest - 0.01 <= lat <= highest + 0.01
    if letter == "S":
        return (False, True) if in_band else (True,)
    if letter == "N" or in_band:
        return (band_south,)
    raise PositionTextError(
        f"{quoted(text)}: band {letter} is {abs(lowest)} to {abs(highest)} degrees"
        f" {'south' if band_south else 'north'}, but the northing {northing} lies at {lat:.2f} degrees.",
        remedy="Check band and northing.",
    )


def _mgrs(text: str, found: re.Match[str], label: DatumLabel) -> WrittenPosition:
    digits = found["east"] + found["north"]
    if len(digits) % 2 or (found["north"] and len(found["east"]) != len(found["north"])):
        raise PositionTextError(
            f"{quoted(text)}: an MGRS reference with {len(digits)} digits cannot be halved into easting and"
            " northing.",
            remedy="Give the same number of digits for both, as 17SQT5865838167.",
        )
    if not 2 <= len(digits) <= 10:
        raise PositionTextError(
            f"{quoted(text)}: an MGRS reference has 1 to 5 digits for each direction.",
            remedy="Give five for each: one metre.",
        )
    if label.frame not in (None, "EPSG:4326"):
        raise PositionTextError(
            f"{quoted(text)}: an MGRS reference on {label.frame} is not read here; its letters may differ.",
            remedy="Give latitude and longitude with that datum.",
        )
    lat, lon = _mgrs_corner(text, "".join((found["zone"], found["band"], found["square"], digits)).upper())
    size_m = 10.0 ** (5 - len(digits) // 2)
    return WrittenPosition(
        text=text,
        lat_deg=lat,
        lon_deg=lon,
        notation="mgrs",
        frame="EPSG:4326",
        epoch=label.epoch,
        resolution_lat_deg=size_m / _METRES_PER_DEG,
        resolution_lon_deg=size_m / (_METRES_PER_DEG * _cosine(lat)),
        extra_r95_m=size_m * math.sqrt(2),
    )


def _mgrs_corner(text: str, reference: str) -> tuple[float, float]:
    import mgrs

    try:
        # The library warns of a latitude outside the band and gives a number all the same.
        with warnings.catch_warnings():
            warnings.simplefilter("error", RuntimeWarning)
            lat, lon = mgrs.MGRS().toLatLon(reference)
    except Exception as error:  # the library's errors share no public class
        raise PositionTextError(
            f"{quoted(text)} is no square of the Military Grid Reference System.",
            remedy="Check zone, band and the two letters of the square.",
        ) from error
    if not (math.isfinite(lat) and abs(lat) <= 90 and abs(lon) <= 180):
        raise PositionTextError(
            f"{quoted(text)} is no place on earth.", remedy="Check zone, band and the two letters."
        )
    return float(lat), float(lon)


def _state_plane(text: str, label: DatumLabel) -> WrittenPosition:
    numbers = _EASTING_NORTHING.search(label.rest)
    if numbers is None:
        raise PositionTextError(
            f"{quoted(text)}: a state plane position needs its easting and northing, each with its letter.",
            remedy="Write SPCS 3200, NAD83(2011), US survey feet: E 2240919.694 N 1707.706.",
        )
    easting = numbers["east"] or numbers["east2"]
    northing = numbers["north"] or numbers["north2"]
    rest = label.rest[: numbers.start()] + " " + label.rest[numbers.end() :]
    zone = _ZONE_NUMBER.search(rest)
    if zone is None:
        raise PositionTextError(
            f"{quoted(text)}: the number of the state plane zone is missing.",
            remedy="Write the zone, as SPCS 3200, or the EPSG code of the grid.",
        )
    datum = _DATUM_OF_FRAME.get(label.frame or "", ("", None))[0]
    if not datum or datum == "WGS 84":
        raise PositionTextError(
            f"{quoted(text)}: the datum of the state plane zone is missing.",
            remedy="Write NAD83(2011), NAD83 or NAD27, or the EPSG code of the grid.",
        )
    unit = _LINEAR_UNIT.search(rest)
    codes = _state_plane_codes(datum, int(zone[1]))
    _refuse_open_foot(text, codes, unit, (easting, northing))
    suffix = " (ftUS)" if unit and unit["ftus"] else " (ft)" if unit and unit["ift"] else ""
    code = codes.get(suffix)
    if code is None:
        raise PositionTextError(
            f"{quoted(text)}: no state plane grid {zone[1]} on {datum} in that unit is known.",
            remedy="Write the EPSG code of the grid, as EPSG:6543.",
        )
    return _on_grid(text, code, (easting, northing), "grid", label.epoch)


def _refuse_open_foot(
    text: str, codes: dict[str, str], unit: re.Match[str] | None, numbers: tuple[str, str]
) -> None:
    """Ask which foot, or whether metres, where the text leaves it open."""
    if unit is not None and not unit["feet"]:
        return
    units = (" (ftUS)", " (ft)") if unit else ("", " (ftUS)", " (ft)")
    readings = _possible(text, [codes[suffix] for suffix in units if suffix in codes], numbers)
    if readings:
        raise AmbiguousPositionError(
            f"{quoted(text)} does not say {'which foot' if unit else 'its unit'}.",
            remedy="Type the grid by its code.",
            readings=readings,
        )


def _possible(text: str, codes: list[str], numbers: tuple[str, str]) -> list[str]:
    """Give the readings on those grids whose area holds the numbers."""
    readings = []
    for code in codes:
        try:
            _on_grid(text, code, numbers, "grid", None)
        except PositionTextError:
            continue
        readings.append(f"{code} {numbers[0]} {numbers[1]}")
    return readings


@lru_cache(maxsize=64)
def _state_plane_codes(datum: str, zone: int) -> dict[str, str]:
    """Find the grids of one zone by the names that EPSG gives them: suffix of the unit to code."""
    from pyproj.crs import CoordinateOperation  # type: ignore[attr-defined]
    from pyproj.exceptions import CRSError

    number = f"{10000 + zone + (0 if datum == 'NAD27' else 30)}"  # EPSG numbers the zones' projections so
    try:
        name = CoordinateOperation.from_authority("EPSG", number).name
    except CRSError:
        return {}
    named = re.fullmatch(r"SPCS83 (.+?)(?: zone)?(?: \(met(?:er|re)s?\))?|(.+) CS27", name)
    if named is None:
        return {}
    codes = {}
    for suffix in ("", " (ftUS)", " (ft)"):
        wanted = f"{datum} / {named[1] or named[2]}{suffix}"
        crs = _crs(wanted)
        if crs is not None and crs.name == wanted and crs.is_projected:
            in_survey_feet = datum == "NAD27"  # whose grids all are, without saying so in their names
            codes[" (ftUS)" if in_survey_feet else suffix] = ":".join(crs.to_authority())
    return codes
