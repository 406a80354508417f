"""
How the layers of an audit are drawn, kept inside the GeoPackage so that a desktop GIS shows verdicts at once.

Two forms of the same: the QML that open desktop GIS programs read from the table ``layer_styles`` of a
GeoPackage, and a Styled Layer Descriptor for all others. A verdict is a shape and a colour, as in the plans.

Sources
-------
OGC Styled Layer Descriptor 1.0.0 and OGC Filter Encoding 1.0.0. The table ``layer_styles`` and QML are a
convention of open desktop GIS programs; names of columns and elements from memory.
"""

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from xml.sax.saxutils import escape, quoteattr

from registry.measure.decision import Verdict

__all__ = ["STYLED", "add_layer_styles"]

TABLE = """CREATE TABLE layer_styles (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, f_table_catalog TEXT(256), f_table_schema TEXT(256),
  f_table_name TEXT(256), f_geometry_column TEXT(256), styleName TEXT(30), styleQML TEXT, styleSLD TEXT,
  useAsDefault BOOLEAN, description TEXT, owner TEXT(30), ui TEXT(30), update_time DATETIME)"""
STYLE_NAME = "Verdicts of the audit"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Mark:
    """One class of features and how it is drawn; sizes in mm."""

    #: What the column must say, and what the legend says; one empty value stands for every feature.
    value: str
    label: str
    #: "marker", "line" or "fill".
    kind: str
    colour: tuple[int, int, int]
    #: Of markers: the shape as QML and as SLD call it.
    shape: tuple[str, str] = ("circle", "circle")
    filled: bool = True
    size: float = 2.8
    width: float = 0.6
    opacity: float = 1.0
    dashed: bool = False
    #: Whether it is shown when the layer is opened.
    shown: bool = True


def _verdicts(*, only_flagged: bool) -> tuple[_Mark, ...]:
    """Give the marks of verdicts, the worst last, so that nothing covers it."""

    def mark(
        verdict: Verdict,
        colour: tuple[int, int, int],
        shape: tuple[str, str],
        size: float,
        *,
        filled: bool,
        width: float = 0.7,
    ) -> _Mark:
        return _Mark(
            value=verdict.word,
            label=verdict.word,
            kind="marker",
            colour=colour,
            shape=shape,
            filled=filled,
            size=size,
            width=width,
            shown=not only_flagged or verdict >= Verdict.INCONCLUSIVE,
        )

    return (
        mark(Verdict.NOT_APPLICABLE, (85, 99, 106), ("square", "square"), 2.4, filled=False, width=0.4),
        mark(Verdict.CONFORMING, (11, 93, 107), ("circle", "circle"), 2.4, filled=True, width=0.2),
        mark(Verdict.INCONCLUSIVE, (122, 75, 0), ("triangle", "triangle"), 3.8, filled=False),
        mark(Verdict.NONCONFORMING, (163, 22, 10), ("cross2", "x"), 3.6, filled=False, width=1.0),
    )


_KEEP_OUT = (143, 47, 20)
#: Layer to the column that is asked, and the marks.
STYLED: dict[str, tuple[str, tuple[_Mark, ...]]] = {
    "placements": ("verdict", _verdicts(only_flagged=False)),
    "findings": ("verdict", _verdicts(only_flagged=True)),
    "permit_areas": (
        "",
        (_Mark(value="", label="permit area", kind="fill", colour=(11, 58, 83), opacity=0.12, width=0.5),),
    ),
    "keep_out_points": (
        "",
        (
            _Mark(
                value="",
                label="keep-out",
                kind="marker",
                colour=_KEEP_OUT,
                shape=("diamond", "square"),
                filled=False,
                size=4.0,
            ),
        ),
    ),
    "keep_out_lines": (
        "",
        (_Mark(value="", label="keep-out", kind="line", colour=_KEEP_OUT, width=0.7, dashed=True),),
    ),
    "keep_out_areas": (
        "",
        (
            _Mark(
                value="",
                label="keep-out",
                kind="fill",
                colour=_KEEP_OUT,
                opacity=0.15,
                width=0.5,
                dashed=True,
            ),
        ),
    ),
}


def add_layer_styles(path: Path, layers: Sequence[tuple[str, str]], *, at: datetime) -> None:
    """
    Write the styles of layers into a GeoPackage that nobody else has open.

    Parameters
    ----------
    path : Path
        The GeoPackage.
    layers : sequence of (str, str)
        Name and geometry column of each layer; those without a style of ours are passed over.
    at : datetime
        The instant that the rows carry, with its zone.
    """
    instant = at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.000Z")
    connection = sqlite3.connect(path)
    try:
        with connection:
            connection.execute(TABLE)
            connection.execute(
                "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, last_change,"
                " srs_id) VALUES ('layer_styles', 'attributes', 'layer_styles', ?, ?, 0)",
                ("How each layer is drawn: verdicts by shape and colour.", instant),
            )
            for name, geometry in layers:
                if name in STYLED:
                    column, marks = STYLED[name]
                    connection.execute(
                        "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name,"
                        " f_geometry_column, styleName, styleQML, styleSLD, useAsDefault, description, owner,"
                        " update_time) VALUES ('', '', ?, ?, ?, ?, ?, 1, ?, '', ?)",
                        (
                            name,
                            geometry,
                            STYLE_NAME,
                            _qml(column, marks),
                            _sld(name, column, marks),
                            "Verdicts by shape and colour, as on the plans of the report.",
                            instant,
                        ),
                    )
    finally:
        connection.close()


def _qml(column: str, marks: Sequence[_Mark]) -> str:
    symbols = "".join(_qml_symbol(number, mark) for number, mark in enumerate(marks))
    if column:
        categories = "".join(
            f'<category symbol="{number}" value={quoteattr(mark.value)} label={quoteattr(mark.label)} '
            f'type="string" render="{str(mark.shown).lower()}"/>'
            for number, mark in enumerate(marks)
        )
        renderer = (
            f'<renderer-v2 type="categorizedSymbol" attr="{column}" symbollevels="1" forceraster="0" '
            f'enableorderby="0"><categories>{categories}</categories><symbols>{symbols}</symbols>'
            "<rotation/><sizescale/></renderer-v2>"
        )
    else:
        renderer = (
            '<renderer-v2 type="singleSymbol" symbollevels="0" forceraster="0" enableorderby="0">'
            f"<symbols>{symbols}</symbols><rotation/><sizescale/></renderer-v2>"
        )
    geometry = {"marker": 0, "line": 1, "fill": 2}[marks[0].kind]
    return (
        "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n"
        f'<qgis version="3.22.0" styleCategories="Symbology">{renderer}<blendMode>0</blendMode>'
        f"<layerGeometryType>{geometry}</layerGeometryType></qgis>"
    )


def _qml_symbol(number: int, mark: _Mark) -> str:
    colour = ",".join(map(str, mark.colour))
    clear = "255,255,255,255" if mark.shape[0] != "cross2" else f"{colour},255"
    line = {
        "line_style": "dash" if mark.dashed else "solid",
        "line_width": mark.width,
        "line_width_unit": "MM",
    }
    properties: dict[str, dict[str, object]] = {
        "marker": {
            "name": mark.shape[0],
            "color": f"{colour},255" if mark.filled else clear,
            "outline_color": f"{colour},255",
            "outline_style": "solid",
            "outline_width": mark.width,
            "outline_width_unit": "MM",
            "size": mark.size,
            "size_unit": "MM",
        },
        "line": {"line_color": f"{colour},255", "joinstyle": "round", "capstyle": "round", **line},
        "fill": {
            "color": f"{colour},{round(255 * mark.opacity)}",
            "style": "solid",
            "outline_color": f"{colour},255",
            "outline_style": "dash" if mark.dashed else "solid",
            "outline_width": mark.width,
            "outline_width_unit": "MM",
        },
    }
    layer = {"marker": "SimpleMarker", "line": "SimpleLine", "fill": "SimpleFill"}[mark.kind]
    told = "".join(f'<prop k="{key}" v="{value}"/>' for key, value in properties[mark.kind].items())
    return (
        f'<symbol type="{mark.kind}" name="{number}" alpha="1" clip_to_extent="1" force_rhr="0">'
        f'<layer class="{layer}" enabled="1" locked="0" pass="{number}">{told}</layer></symbol>'
    )


def _sld(name: str, column: str, marks: Sequence[_Mark]) -> str:
    rules = "".join(_sld_rule(column, mark) for mark in marks if mark.shown)
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n<StyledLayerDescriptor version="1.0.0" '
        'xmlns="http://www.opengis.net/sld" xmlns:ogc="http://www.opengis.net/ogc">'
        f"<NamedLayer><Name>{escape(name)}</Name><UserStyle><Title>{STYLE_NAME}</Title>"
        f"<FeatureTypeStyle>{rules}</FeatureTypeStyle></UserStyle></NamedLayer></StyledLayerDescriptor>"
    )


def _sld_rule(column: str, mark: _Mark) -> str:
    asked = (
        f"<ogc:Filter><ogc:PropertyIsEqualTo><ogc:PropertyName>{column}</ogc:PropertyName>"
        f"<ogc:Literal>{escape(mark.value)}</ogc:Literal></ogc:PropertyIsEqualTo></ogc:Filter>"
        if column
        else ""
    )
    colour = "#{:02x}{:02x}{:02x}".format(*mark.colour)
    # A stylesheet counts in pixels; common practice are 0.28 mm to each.
    pixels = {"width": f"{mark.width / 0.28:.1f}", "size": f"{mark.size / 0.28:.1f}"}
    dashes = '<CssParameter name="stroke-dasharray">5 4</CssParameter>' if mark.dashed else ""
    stroke = (
        f'<Stroke><CssParameter name="stroke">{colour}</CssParameter>'
        f'<CssParameter name="stroke-width">{pixels["width"]}</CssParameter>{dashes}</Stroke>'
    )
    inside = colour if mark.filled else "#ffffff"
    fill = (
        f'<Fill><CssParameter name="fill">{inside}</CssParameter>'
        f'<CssParameter name="fill-opacity">{mark.opacity:g}</CssParameter></Fill>'
    )
    drawn = {
        "marker": f"<PointSymbolizer><Graphic><Mark><WellKnownName>{mark.shape[1]}</WellKnownName>{fill}"
        f"{stroke}</Mark><Size>{pixels['size']}</Size></Graphic></PointSymbolizer>",
        "line": f"<LineSymbolizer>{stroke}</LineSymbolizer>",
        "fill": f"<PolygonSymbolizer>{fill}{stroke}</PolygonSymbolizer>",
    }[mark.kind]
    return f"<Rule><Name>{escape(mark.label)}</Name><Title>{escape(mark.label)}</Title>{asked}{drawn}</Rule>"
