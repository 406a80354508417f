"""
Reference frames and the datum operations allowed between them: rows of data, and their lookup.

Every operation is named by its EPSG number and asked for by that number; none is left to a search, because
the search prefers null operations to "WGS 84" that are wrong by metres. ITRF2020 is the hub through which
frames meet. A new frame (such as the successor of NAD83) is a new row here.

Sources
-------
EPSG Geodetic Parameter Dataset v11.022 as carried by PROJ 9.5.1: codes, areas, operations, accuracies.
The reasons for refusal were found by running those operations side by side.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "DIRECT_OPERATIONS",
    "FRAMES",
    "HUB",
    "REFUSED",
    "RESTLESS",
    "Box",
    "Frame",
    "GridOperation",
    "RefusedFrame",
    "RestlessZone",
    "frame_of",
    "in_box",
    "plate_of",
    "refusal_of",
    "restless_zone_of",
]

#: West, south, east, north in degrees; west above east where the box crosses the 180th meridian.
Box = tuple[float, float, float, float]

#: The frame through which all others meet: ITRF2020.
HUB = "EPSG:9990"

_WORLD: Box = (-180.0, -90.0, 180.0, 90.0)
_PACIFIC: Box = (157.47, -17.56, -151.27, 31.8)
_EUROPE: Box = (-16.1, 33.26, 38.01, 84.73)
_CANADA: Box = (-141.01, 38.21, -40.73, 86.46)
_AUSTRALIA: Box = (93.41, -60.55, 173.34, -8.47)


@dataclass(frozen=True, slots=True, kw_only=True)
class GridOperation:
    """A published grid of shifts from an old datum to its parent frame, for one area."""

    #: EPSG numbers of operations that do the same work, the best first.
    operations: tuple[int, ...]
    #: File that each of them needs, in the same order.
    grids: tuple[str, ...]
    area: str
    box: Box
    #: What the grid leaves unknown at sea. Units: m, 95 % radius.
    r95_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """A reference frame in which coordinates may be given, and how it reaches the hub."""

    #: Code of the two-dimensional geographic frame, as "EPSG:6318": how Leadline writes it.
    code: str
    #: The same with ellipsoidal height.
    code_3d: str
    name: str
    #: Other ways to write the name; case, blanks and punctuation between letters do not matter.
    also_written: tuple[str, ...] = ()
    #: Codes that mean the same frame.
    also_coded: tuple[str, ...] = ()
    #: True if a mark on the sea floor keeps its coordinates in it.
    plate_fixed: bool
    #: The epoch in which a plate-fixed frame's coordinates are. Units: decimal year.
    epoch: float | None = None
    region: str
    box: Box
    #: Places inside the box that belong to another frame, with its code.
    elsewhere: tuple[tuple[Box, str], ...] = ()
    #: Doubt that the frame's name itself leaves open. Units: m, 95 % radius.
    extra_r95_m: float = 0.0
    #: Motion that the frame's own operation does not follow on a stable plate. Units: m a year.
    residual_m_per_year: float = 0.0
    #: Plate of the ITRF2020 plate motion model that carries its marks.
    plate: str | None = None
    #: The frame that it is taken for, where its name alone does not say which realisation is meant.
    taken_as: str | None = None
    #: Grid operations from an old datum to the frame in `taken_as`.
    grid_operations: tuple[GridOperation, ...] = ()
    #: EPSG numbers of the operations to ITRF2020, in order; a minus sign means the inverse operation.
    to_itrf2020: tuple[int, ...] = ()
    ellipsoid: str = "GRS80"
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RefusedFrame:
    """A frame in which coordinates may be kept, but for which no datum operation can be trusted."""

    codes: tuple[str, ...]
    name: str
    reason: str
    remedy: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RestlessZone:
    """An area where the ground moves against the plate that the frame follows."""

    name: str
    box: Box
    #: Frames whose operations miss the motion.
    frames: tuple[str, ...]
    #: How fast a fixed mark may leave the coordinates that the operation gives. Units: m a year, 95 %.
    m_per_year: float
    #: The plate that carries the sea floor here.
    plate: str
    source: str


FRAMES: tuple[Frame, ...] = (
    Frame(
        code="EPSG:4326",
        code_3d="EPSG:4979",
        name="WGS 84",
        also_written=("WGS84", "World Geodetic System 1984", "GPS"),
        plate_fixed=False,
        region="The world, as receivers and phones show it today.",
        box=_WORLD,
        extra_r95_m=0.01,
        taken_as="EPSG:9990",
        source="EPSG:10608, WGS 84 (G2296) to ITRF2020: no shift, 0.01 m. The codes of the whole family "
        "(4326, 4979) are never an end of an operation, because PROJ sends them through NAD83.",
    ),
    Frame(
        code="EPSG:9990",
        code_3d="EPSG:9989",
        name="ITRF2020",
        also_written=("IGS20", "IGb20"),
        also_coded=("EPSG:10177", "EPSG:10178"),
        plate_fixed=False,
        region="The world.",
        box=_WORLD,
        source="EPSG:9990. IGS20 is its GNSS realisation, to a few millimetres.",
    ),
    Frame(
        code="EPSG:10606",
        code_3d="EPSG:10605",
        name="WGS 84 (G2296)",
        plate_fixed=False,
        region="The world, from January 2024.",
        box=_WORLD,
        to_itrf2020=(10608,),
        ellipsoid="WGS84",
        source="EPSG:10608, 0.01 m.",
    ),
    Frame(
        code="EPSG:9755",
        code_3d="EPSG:9754",
        name="WGS 84 (G2139)",
        plate_fixed=False,
        region="The world, from January 2021 to January 2024.",
        box=_WORLD,
        to_itrf2020=(9757, 9991),
        ellipsoid="WGS84",
        source="EPSG:9757 and EPSG:9991.",
    ),
    Frame(
        code="EPSG:9057",
        code_3d="EPSG:7665",
        name="WGS 84 (G1762)",
        plate_fixed=False,
        region="The world, from October 2013 to January 2021.",
        box=_WORLD,
        to_itrf2020=(7666, 9992),
        ellipsoid="WGS84",
        source="EPSG:7666 and EPSG:9992.",
    ),
    Frame(
        code="EPSG:9056",
        code_3d="EPSG:7663",
        name="WGS 84 (G1674)",
        plate_fixed=False,
        region="The world, from February 2012 to October 2013.",
        box=_WORLD,
        to_itrf2020=(7669, 9992),
        ellipsoid="WGS84",
        source="EPSG:7669 and EPSG:9992.",
    ),
    Frame(
        code="EPSG:9055",
        code_3d="EPSG:7661",
        name="WGS 84 (G1150)",
        plate_fixed=False,
        region="The world, from January 2002 to February 2012.",
        box=_WORLD,
        to_itrf2020=(7670, 9994),
        ellipsoid="WGS84",
        source="EPSG:7670 and EPSG:9994.",
    ),
    Frame(
        code="EPSG:9000",
        code_3d="EPSG:7912",
        name="ITRF2014",
        also_written=("IGS14", "IGb14"),
        also_coded=("EPSG:9018", "EPSG:9019"),
        plate_fixed=False,
        region="The world.",
        box=_WORLD,
        to_itrf2020=(9991,),
        source="EPSG:9991.",
    ),
    Frame(
        code="EPSG:8999",
        code_3d="EPSG:7911",
        name="ITRF2008",
        also_written=("IGS08", "IGb08"),
        plate_fixed=False,
        region="The world.",
        box=_WORLD,
        to_itrf2020=(9992,),
        source="EPSG:9992.",
    ),
    Frame(
        code="EPSG:8998",
        code_3d="EPSG:7910",
        name="ITRF2005",
        also_written=("IGS05",),
        plate_fixed=False,
        region="The world.",
        box=_WORLD,
        to_itrf2020=(9993,),
        source="EPSG:9993.",
    ),
    Frame(
        code="EPSG:8997",
        code_3d="EPSG:7909",
        name="ITRF2000",
        also_written=("ITRF00", "IGS00", "IGb00"),
        plate_fixed=False,
        region="The world.",
        box=_WORLD,
        to_itrf2020=(9994,),
        source="EPSG:9994.",
    ),
    Frame(
        code="EPSG:6318",
        code_3d="EPSG:6319",
        name="NAD83(2011)",
        also_written=("NAD83 (National Spatial Reference System 2011)", "NAD83(2011) epoch 2010.00"),
        plate_fixed=True,
        epoch=2010.0,
        region="The conterminous United States, Alaska, Puerto Rico, the Virgin Islands, and their waters.",
        box=(167.65, 14.92, -63.88, 74.71),
        elsewhere=((_PACIFIC, "EPSG:6322"),),
        residual_m_per_year=0.002,
        plate="NOAM",
        to_itrf2020=(-10334,),
        source="EPSG:10334. The residual motion (2 to 3 cm by 2026 on the stable plate) is a judgement.",
    ),
    Frame(
        code="EPSG:4269",
        code_3d="EPSG:4269",
        name="NAD83",
        also_written=("NAD83, realisation unknown", "North American Datum 1983", "NAD 1983", "NAD83(1986)"),
        plate_fixed=True,
        epoch=2010.0,
        region="North America; which of its realisations is meant is not said.",
        box=(167.65, 14.92, -40.73, 86.45),
        elsewhere=((_PACIFIC, "EPSG:6322"),),
        extra_r95_m=1.0,
        residual_m_per_year=0.002,
        plate="NOAM",
        taken_as="EPSG:6318",
        source="NGS station pairs of seven states: NAD83(1986) to HARN is 0.47 to 0.96 m at 95 %, "
        "later realisations centimetres; computed from the published pairs.",
    ),
    Frame(
        code="EPSG:6322",
        code_3d="EPSG:6321",
        name="NAD83(PA11)",
        plate_fixed=True,
        epoch=2010.0,
        region="Hawaii, American Samoa and other United States islands on the Pacific plate.",
        box=_PACIFIC,
        residual_m_per_year=0.002,
        plate="PCFC",
        to_itrf2020=(-10336,),
        source="EPSG:10336.",
    ),
    Frame(
        code="EPSG:6325",
        code_3d="EPSG:6324",
        name="NAD83(MA11)",
        plate_fixed=True,
        epoch=2010.0,
        region="Guam and the Northern Mariana Islands.",
        box=(129.48, 1.64, 149.55, 23.9),
        residual_m_per_year=0.002,
        plate=None,
        to_itrf2020=(-10338,),
        source="EPSG:10338. The ITRF2020 plate motion model has no Mariana plate.",
    ),
    Frame(
        code="EPSG:10414",
        code_3d="EPSG:10413",
        name="NAD83(CSRS)v8",
        plate_fixed=True,
        epoch=2010.0,
        region="Canada and its waters.",
        box=_CANADA,
        residual_m_per_year=0.002,
        plate="NOAM",
        to_itrf2020=(-10415,),
        source="EPSG:10415. Epoch 2010.0 is the federal one (from memory); some provinces keep 1997 or 2002.",
    ),
    Frame(
        code="EPSG:8255",
        code_3d="EPSG:8254",
        name="NAD83(CSRS)v7",
        plate_fixed=True,
        epoch=2010.0,
        region="Canada and its waters.",
        box=_CANADA,
        residual_m_per_year=0.002,
        plate="NOAM",
        to_itrf2020=(-8265, 9991),
        source="EPSG:8265 and EPSG:9991. Epoch as for version 8.",
    ),
    Frame(
        code="EPSG:8252",
        code_3d="EPSG:8251",
        name="NAD83(CSRS)v6",
        plate_fixed=True,
        epoch=2010.0,
        region="Canada and its waters.",
        box=_CANADA,
        residual_m_per_year=0.002,
        plate="NOAM",
        to_itrf2020=(-8264, 9992),
        source="EPSG:8264 and EPSG:9992. Epoch as for version 8.",
    ),
    Frame(
        code="EPSG:7844",
        code_3d="EPSG:7843",
        name="GDA2020",
        also_written=("Geocentric Datum of Australia 2020",),
        plate_fixed=True,
        epoch=2020.0,
        region="Australia and its waters.",
        box=_AUSTRALIA,
        plate="AUST",
        to_itrf2020=(-8049, 9991),
        source="EPSG:8049 (plate motion, 0.03 m) and EPSG:9991.",
    ),
    Frame(
        code="EPSG:4283",
        code_3d="EPSG:4939",
        name="GDA94",
        also_written=("Geocentric Datum of Australia 1994",),
        plate_fixed=True,
        epoch=1994.0,
        region="Australia and its waters.",
        box=_AUSTRALIA,
        plate="AUST",
        to_itrf2020=(-9682, 9991),
        source="EPSG:9682 (0.035 m) and EPSG:9991.",
    ),
    Frame(
        code="EPSG:10571",
        code_3d="EPSG:10570",
        name="ETRF2020",
        plate_fixed=True,
        epoch=1989.0,
        region="Europe on the stable Eurasian plate, and its waters.",
        box=_EUROPE,
        residual_m_per_year=0.001,
        plate="EURA",
        to_itrf2020=(-10573,),
        source="EPSG:10573. ETRS89 coincides with the ITRS at 1989.0.",
    ),
    Frame(
        code="EPSG:9069",
        code_3d="EPSG:8403",
        name="ETRF2014",
        plate_fixed=True,
        epoch=1989.0,
        region="Europe on the stable Eurasian plate, and its waters.",
        box=_EUROPE,
        residual_m_per_year=0.001,
        plate="EURA",
        to_itrf2020=(-10587,),
        source="EPSG:10587.",
    ),
    Frame(
        code="EPSG:9067",
        code_3d="EPSG:7931",
        name="ETRF2000",
        plate_fixed=True,
        epoch=1989.0,
        region="Europe on the stable Eurasian plate, and its waters.",
        box=_EUROPE,
        residual_m_per_year=0.001,
        plate="EURA",
        to_itrf2020=(-10586,),
        source="EPSG:10586.",
    ),
    Frame(
        code="EPSG:4267",
        code_3d="EPSG:4267",
        name="NAD27",
        also_written=("North American Datum 1927", "NAD 1927"),
        plate_fixed=True,
        epoch=None,
        region="North America on old charts and leases.",
        box=(167.65, 7.15, -47.74, 83.17),
        plate="NOAM",
        taken_as="EPSG:4269",
        grid_operations=(
            GridOperation(
                operations=(8555, 1241),
                grids=("us_noaa_nadcon5_nad27_nad83_1986_conus.tif", "conus"),
                area="the conterminous United States and its waters",
                box=(-131.0, 20.0, -63.0, 50.0),
                r95_m=2.4,
            ),
            GridOperation(
                operations=(8549, 1243),
                grids=("us_noaa_nadcon5_nad27_nad83_1986_alaska.tif", "alaska"),
                area="Alaska and its waters",
                box=(166.0, 46.0, -128.0, 77.0),
                r95_m=2.4,
            ),
        ),
        ellipsoid="clrk66",
        source="EPSG:8555: 0.15 m ashore, 1 m near the shore, undetermined farther out. 1 m on each axis "
        "read as one standard deviation gives 2.4 m at 95 % (a judgement).",
    ),
    Frame(
        code="EPSG:4135",
        code_3d="EPSG:4135",
        name="Old Hawaiian",
        plate_fixed=True,
        epoch=None,
        region="Hawaii on old charts.",
        box=(-160.3, 18.87, -154.74, 22.29),
        plate="PCFC",
        taken_as="EPSG:6322",
        grid_operations=(
            GridOperation(
                operations=(8561, 1454),
                grids=("us_noaa_nadcon5_ohd_nad83_1986_hawaii.tif", "hawaii"),
                area="Hawaii",
                box=(-161.0, 18.0, -154.0, 23.0),
                r95_m=2.6,
            ),
        ),
        ellipsoid="clrk66",
        source="EPSG:8561 gives NAD83(1986), taken here as NAD83(PA11) with the doubt of both.",
    ),
    Frame(
        code="EPSG:4139",
        code_3d="EPSG:4139",
        name="Puerto Rico",
        plate_fixed=True,
        epoch=None,
        region="Puerto Rico and the Virgin Islands on old charts.",
        box=(-67.97, 17.62, -64.25, 18.78),
        plate="CARB",
        taken_as="EPSG:4269",
        grid_operations=(
            GridOperation(
                operations=(8668, 1461),
                grids=("us_noaa_nadcon5_pr40_nad83_1986_prvi.tif", "prvi"),
                area="Puerto Rico and the Virgin Islands",
                box=(-68.5, 17.0, -64.0, 19.5),
                r95_m=2.4,
            ),
        ),
        ellipsoid="clrk66",
        source="EPSG:8668.",
    ),
)

#: Operations between two plate-fixed frames that need no epoch; a minus sign means the inverse operation.
DIRECT_OPERATIONS: dict[tuple[str, str], tuple[int, ...]] = {
    ("EPSG:4283", "EPSG:7844"): (8048,),
    ("EPSG:8255", "EPSG:6318"): (10416,),
    ("EPSG:8252", "EPSG:6318"): (9129,),
    ("EPSG:8255", "EPSG:10414"): (10514,),
    ("EPSG:8252", "EPSG:10414"): (10513,),
    ("EPSG:10414", "EPSG:6318"): (-10514, 10416),
}

_NO_OPERATION = (
    "PROJ knows no operation from it to ITRF2020 but a null one, which is wrong by a metre or more."
)
_SURVEYED_AGAIN = "Give the coordinates in WGS 84, ITRF2020 or another frame of the table, with their epoch."

REFUSED: tuple[RefusedFrame, ...] = (
    RefusedFrame(
        codes=("EPSG:4258", "EPSG:4937"),
        name="ETRS89",
        reason="It names a family whose members differ by up to 8 cm, and PROJ picks one by itself.",
        remedy="Name a realisation: ETRF2000 (EPSG:9067), ETRF2014 (EPSG:9069) or ETRF2020 (EPSG:10571).",
    ),
    RefusedFrame(
        codes=("EPSG:6668", "EPSG:6667"), name="JGD2011", reason=_NO_OPERATION, remedy=_SURVEYED_AGAIN
    ),
    RefusedFrame(
        codes=("EPSG:4612", "EPSG:4947"), name="JGD2000", reason=_NO_OPERATION, remedy=_SURVEYED_AGAIN
    ),
    RefusedFrame(
        codes=("EPSG:4301",),
        name="Tokyo",
        reason="Without the official grid the shift is known only to about 10 m.",
        remedy=_SURVEYED_AGAIN,
    ),
    RefusedFrame(
        codes=("EPSG:4674", "EPSG:4989"),
        name="SIRGAS 2000",
        reason="It is fixed at 2000.4 and no operation in PROJ carries it to another epoch.",
        remedy=_SURVEYED_AGAIN,
    ),
    RefusedFrame(
        codes=("EPSG:4167", "EPSG:4959"),
        name="NZGD2000",
        reason="Its deformation model is not among the operations that this program trusts.",
        remedy=_SURVEYED_AGAIN,
    ),
    RefusedFrame(
        codes=("EPSG:4277",),
        name="OSGB36",
        reason="Helmert operations are wrong by metres; the official grid leads only to the ETRS89 family.",
        remedy="Convert with the official OSTN15 software and give ETRF2000 (EPSG:9067), or give WGS 84.",
    ),
    RefusedFrame(
        codes=("EPSG:10967", "EPSG:10968", "EPSG:10966"),
        name="NATRF2022",
        reason="Its official operations from NAD83 and ITRF2020 are not published yet.",
        remedy=_SURVEYED_AGAIN,
    ),
)

_NAD83 = ("EPSG:6318", "EPSG:4269")

RESTLESS: tuple[RestlessZone, ...] = (
    RestlessZone(
        name="the Pacific side of California",
        box=(-130.0, 30.0, -114.0, 40.4),
        frames=_NAD83,
        m_per_year=0.05,
        plate="PCFC",
        source="ITRF2020 plate motion model, PCFC against NOAM, 0.05 m a year; an upper bound in the zone.",
    ),
    RestlessZone(
        name="the Pacific north-west",
        box=(-130.0, 40.4, -116.0, 51.0),
        frames=_NAD83,
        m_per_year=0.02,
        plate="NOAM",
        source="Judgement, no source: centimetres a year over the Cascadia margin.",
    ),
    RestlessZone(
        name="southern Alaska and the Aleutians",
        box=(167.65, 50.0, -130.0, 62.0),
        frames=_NAD83,
        m_per_year=0.05,
        plate="NOAM",
        source="Judgement, no source: up to the full rate between the plates.",
    ),
    RestlessZone(
        name="Puerto Rico and the Virgin Islands",
        box=(-69.0, 16.0, -63.88, 20.0),
        frames=_NAD83,
        m_per_year=0.018,
        plate="CARB",
        source="ITRF2020 plate motion model, CARB against NOAM: 0.29 m from 2010.0 to 2026.9.",
    ),
)


def _plain(name: str) -> str:
    """Reduce a name to its letters, digits and brackets."""
    return "".join(c for c in name.casefold() if c.isalnum() or c in "()")


_BY_CODE = {code: f for f in FRAMES for code in (f.code, f.code_3d, *f.also_coded)}
_BY_NAME = {_plain(name): f for f in FRAMES for name in (f.name, *f.also_written)}
_REFUSED_BY_CODE = {code: r for r in REFUSED for code in r.codes}
_REFUSED_BY_NAME = {_plain(r.name): r for r in REFUSED}


def frame_of(text: str) -> Frame | None:
    """
    Look up a frame by its code or its name.

    Parameters
    ----------
    text : str
        As "EPSG:6318" or "NAD83(2011)"; case and blanks do not matter.

    Returns
    -------
    Frame or None
        None if the table does not hold it.

    Examples
    --------
    >>> frame_of("nad83 (2011)").code
    'EPSG:6318'
    >>> frame_of("EPSG:4979").name
    'WGS 84'
    """
    return _BY_CODE.get(text.strip().upper()) or _BY_NAME.get(_plain(text))


def refusal_of(text: str) -> RefusedFrame | None:
    """
    Look up why a frame is refused, by its code or its name.

    Examples
    --------
    >>> refusal_of("ETRS89").remedy.split(":")[0]
    'Name a realisation'
    """
    return _REFUSED_BY_CODE.get(text.strip().upper()) or _REFUSED_BY_NAME.get(_plain(text))


def in_box(lon_deg: ArrayLike, lat_deg: ArrayLike, box: Box) -> NDArray[np.bool_]:
    """
    Tell for each point whether it lies in a box, which may cross the 180th meridian.

    Examples
    --------
    >>> in_box([-157.0, 157.0], 21.0, (157.47, -17.56, -151.27, 31.8)).tolist()
    [True, False]
    """
    west, south, east, north = box
    lon, lat = np.asarray(lon_deg, dtype=float), np.asarray(lat_deg, dtype=float)
    width = 360.0 if east - west >= 360.0 else (east - west) % 360.0
    return np.asarray(((lon - west) % 360.0 <= width) & (lat >= south) & (lat <= north))


def restless_zone_of(frame: Frame, lon_deg: float, lat_deg: float) -> RestlessZone | None:
    """
    Find the zone, if any, where the ground at a point leaves the motion that the frame follows.

    Examples
    --------
    >>> restless_zone_of(frame_of("NAD83(2011)"), -118.0, 33.0).name
    'the Pacific side of California'
    """
    inside = (z for z in RESTLESS if frame.code in z.frames and bool(in_box(lon_deg, lat_deg, z.box)))
    return next(inside, None)


def plate_of(frame: Frame, lon_deg: float, lat_deg: float) -> str | None:
    """
    Name the plate that carries the sea floor at a point of a plate-fixed frame.

    Returns
    -------
    str or None
        A plate of the ITRF2020 plate motion model, None if the model has none for it.

    Examples
    --------
    >>> nad83 = frame_of("NAD83(2011)")
    >>> plate_of(nad83, -78.0, 33.0), plate_of(nad83, -118.0, 33.0), plate_of(nad83, -66.0, 18.0)
    ('NOAM', 'PCFC', 'CARB')
    """
    zone = restless_zone_of(frame, lon_deg, lat_deg)
    return zone.plate if zone else frame.plate
