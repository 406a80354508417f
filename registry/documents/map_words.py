"""
What the public pages say, in every language that they speak: the reader chooses, and nothing is loaded anew.

Each sentence has a key, which the pages carry beside the sentence. English stands here; every other language
is one catalogue of GNU gettext, ``map_page/languages/TAG.po``, whose messages are the English sentences.
"""

import json
import re
from collections.abc import Collection, Mapping
from functools import lru_cache
from html import escape, unescape
from importlib.resources import files
from typing import Any

from babel import Locale
from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po
from babel.numbers import format_decimal, get_decimal_symbol

__all__ = [
    "ENGLISH",
    "LANGUAGES",
    "attribute_words",
    "catalogues",
    "fill",
    "language_options",
    "told",
    "worded",
]

#: The languages of the pages, each by its own name.
LANGUAGES = {
    "en": "English",
    "es": "Español",
    "fr": "Français",
    "de": "Deutsch",
    "vi": "Tiếng Việt",
}

#: Values that are numbers of our own: they get the decimal mark of the language. Others stand as they are.
MEASURED = frozenset(("value", "u95", "feet", "depth", "least", "most", "setback", "epoch"))

#: A sentence, or the two that a language has for one and for many.
Sentence = str | tuple[str, ...]

ENGLISH: dict[str, Sentence] = {
    # The head of the page and what the reader sets.
    "title": "{programme}: map of the memorial reef",
    "skip": "Skip the map, go to the list of modules",
    "lede": "Memorial reef modules at rest on the seabed. Issued {issued}.",
    "language": "Language",
    "notation": "Coordinates",
    "notation-ddm": "Degrees and minutes",
    "notation-dd": "Decimal degrees",
    "notation-dms": "Degrees, minutes, seconds",
    "theme": "Light",
    "theme-auto": "As the device",
    "theme-day": "Day",
    "theme-night": "Night",
    "caution-title": "Not for navigation.",
    "caution": "Use official charts. Dive and fish by local rules and your own judgement. "
    "Nothing here is permission to anchor, fish or dive.",
    # Tools.
    "map": "Map",
    "map-label": "Map of modules, permit areas and keep-outs. Arrow keys move it, plus and minus zoom.",
    "beside": "Legend and areas",
    "find": "Find a tag or a name",
    "whole": "Whole site",
    "measure": "Measure",
    "locate": "Where am I",
    "gpx": "Save as GPX",
    "from-summary": "Type where you are instead",
    "from-label": "Your position",
    "from-use": "Use it",
    "from-hint": "As 34 01.250 N 077 20.110 W or 34.0208, -77.3352. It stays in this page.",
    "from-unreadable": "That is no position that can be read in one way only. "
    "Write 34 01.250 N 077 20.110 W or 34.0208, -77.3352.",
    "measure-how": "Press places on the map, or move the map under the cross and add its centre.",
    "add-centre": "Add centre",
    "undo": "Undo",
    "done": "Done",
    "no-script": "The map needs a browser that runs scripts. Every position is in the list below.",
    "zoom-in": "Zoom in",
    "zoom-out": "Zoom out",
    "close": "Close",
    "pointer": "Pointer",
    "centre": "Centre",
    # Legend.
    "legend": "Legend",
    "legend-modules": "Modules; a number stands for several, its ring as full as their disc below "
    "where they share a depth",
    "legend-areas": "Permit area: solid edge",
    "legend-keepouts": "Keep-out: hatched, broken edge",
    "legend-within": "An opened module lies inside this circle with 95 % probability",
    "legend-here": "Your own position, once you ask where you are",
    "legend-land": "Land, in rough outline only",
    "bands": "Depth of the seabed",
    "bands-note": "The fuller and the darker the disc, the deeper. Depth below chart datum, not below "
    "the water of the moment.",
    "band-under": "under {to} m ({feet} ft)",
    "band": "{from} to {to} m ({feetFrom} to {feetTo} ft)",
    "band-over": "over {from} m ({feet} ft)",
    "module-title": "Module {module}",
    "group": ("{n} module, {band}: open", "{n} modules, {band}: open"),
    "group-mixed": ("{n} module: open", "{n} modules of several depths: open"),
    # Areas.
    "areas": "Areas and keep-outs",
    "area-line": ("permit {permit}, {n} module", "permit {permit}, {n} modules"),
    "keepout-line": "keep-out, {kind}, setback {setback}",
    "area-under": "Permit area under permit",
    "keepout": "Keep-out",
    "setback": "Setback",
    "setback-text": "modules are to lie at least {setback} away",
    "keep-clear": "Keep clear: {name}",
    "site-page": "About this area",
    "downloads": "Downloads",
    "downloads-all": "Every module and outline, WGS 84",
    # The list and what is said of one module.
    "list": "List of modules",
    "list-note": ("{n} module, positions in {frame}.", "{n} modules, positions in {frame}."),
    "list-cut": "Without scripts only the first {most} stand here; the files for plotters hold all.",
    "list-range": "{from} to {to} of {n}",
    "sort": "Order by",
    "sort-depth": "Depth, shallow first",
    "sort-near": "Distance from you",
    "earlier": "Earlier",
    "later": "Later",
    "tag": "Tag",
    "name": "Name",
    "position": "Position",
    "position-in": "{notation}, WGS 84",
    "within": "Within (95 %)",
    "within-95": "within {radius} (95 %)",
    "depth": "Depth",
    "height": "Height",
    "placed": "Placed",
    "area": "Area",
    "from-you": "From you",
    "lies": "The module lies",
    "seabed": "Seabed",
    "stands": "Stands above the seabed",
    "not-measured": "not measured",
    "depth-plain": "{depth} m ± {u95} m ({feet} ft)",
    "depth-below": "{depth} m ± {u95} m below {datum} ({feet} ft)",
    "depth-about": "about {depth} m, uncertainty unknown",
    "depth-about-below": "about {depth} m below {datum}, uncertainty unknown",
    "copy": "Copy position",
    "copied-short": "Copied",
    "copied": "Copied: {text}",
    "copy-by-hand": "This browser does not let a page copy. Select it by hand: {text}",
    "open-app": "Open in a map app",
    "modules": ("{n} module", "{n} modules"),
    "found": ("{n} of {all} modules matches", "{n} of {all} modules match"),
    "found-first": (
        "{n} of {all} modules matches, the first {most} listed",
        "{n} of {all} modules match, the first {most} listed",
    ),
    "found-none": "No tag or name holds that. Try fewer letters.",
    # Distances and the reader's own place.
    "true-bearing": "{bearing}° true",
    "known-within": "known within {radius} (95 %)",
    "leg": "{from} to {to}: {leg}",
    "total": "Total: {length}",
    "opposite": "These places lie on opposite sides of the earth; no single bearing joins them.",
    "own-position": "The ring is your own position, good to about {radius}.",
    "typed-position": "The ring is the position that you typed, {position}.",
    "nearest": "The nearest module, {tag}, is {length} away.",
    "asking": "Asking your device where it is.",
    "not-followed": "Your device is no longer followed.",
    "no-geolocation": "This browser cannot tell a page where it is. Use the boat's own receiver.",
    "refused": "This browser keeps your position to itself. Allow location for this page, or type it.",
    "cannot-tell": "Your device cannot tell where it is just now. Try under open sky.",
    "too-long": "Your device took too long to find itself. Try again under open sky.",
    "gpx-written": (
        "{n} position written for a plotter.",
        "{n} positions written for a plotter.",
    ),
    # How much of the positions is shown.
    "published-sites": "The programme publishes its sites, and no position of a single module.",
    "published-rounded": "The programme publishes positions rounded to {step}: a module lies somewhere in "
    "the circle around its mark.",
    # About the numbers.
    "about": "About the numbers",
    "about-frame": "Frame and epoch",
    "about-frame-text": "{frame}",
    "epoch-frame": "WGS 84 (ITRF2020), epoch {epoch}",
    "about-depths": "Depths",
    "about-depths-text": "Seabed below {datum}. A module's height is above that seabed, so the water over it "
    "is less, and it changes with the tide.",
    "about-position": "Each position",
    "about-position-text": "Comes with the radius inside which the module lies with 95 % probability. "
    "No further digits are known.",
    "about-bearings": "Bearings and distances",
    "about-bearings-text": "True, along the geodesic of WGS 84.",
    "about-plotter": "On a plotter",
    "about-plotter-text": "Save as GPX gives what the map shows as waypoints and tracks. "
    "Check them against the list once loaded.",
    "about-page": "This page",
    "about-page-file": "Works without a network. It asks nothing of any server and sends nothing.",
    "about-page-site": "Can be kept for use without a network: open it once ashore, or install it. "
    "It sends nothing but asks its own server for its own pages.",
    "footer": "Frame: {frame}. Issued {issued}; positions can be corrected after that day, so ask the "
    "programme for the newest map.",
    "credits": "Coast: Natural Earth, public domain. Drawn with Leaflet and Supercluster; their licences "
    "stand at the end of this file.",
    "offline": "No network: this is the copy that was issued {issued}.",
    "ready": "This map is kept on this device: it opens without a network too.",
    "renewed": "A newer map has arrived. Load the page again to see it.",
    # The page of one area.
    "area-title": "{area}, {programme}",
    "to-map": "To the map",
    "facts": "In short",
    "permit": "Permit",
    "permit-from": "{permit}, {authority}",
    "valid": "In force",
    "valid-text": "{from} to {until}",
    "middle": "Centre of the area",
    "count": "Modules",
    "depth-range": "Depth range of the seabed",
    "depth-range-text": "{least} to {most} below {datum}",
    "one-depth-text": "{least} below {datum}",
    "unmeasured": ("{n} module not measured", "{n} modules not measured"),
    "clearance": "Least clearance over a module",
    "clearance-text": "{value} m ± {u95} m below {datum} ({feet} ft)",
    "clearance-unknown": "not known: the depth of a module here is not measured",
    "clearance-note": "At chart datum. The water of the moment differs with tide, pressure, wind and swell; "
    "growth on a module takes some of it.",
    "dates": "Days of placing",
    "dates-text": "{first} to {last}",
    "none-yet": "no module yet",
    "corners": "Corners",
    "corners-note": "{frame}. The permit's own words are the ones that count.",
    "corner": "Corner",
    "part": "part {n}",
    "hole": "hole {n}",
    "circle": "A circle with the radius {radius} around:",
    "as-written": "As the permit writes it ({frame})",
    "drawn": "from a drawing",
    "permit-asks": "What the permit asks of the programme",
    "permit-note": "In the words of the permit. These are duties of whoever places modules, "
    "not leave for anybody.",
    "limit-least": "at least {written}",
    "limit-greatest": "at most {written}",
    "limit-share": "at most {written} of the water",
    "limit-setback": "setback {written}",
    "rules": "Rules for visitors",
    "rules-none": "The programme has published no rules of its own for this place. Local rules apply: ask "
    "the authority before you anchor, fish or dive.",
    "young-reef": "When a young reef is worth a visit",
    "cautions": "Cautions",
    "caution-charts": "Not for navigation: use official charts and notices to mariners.",
    "caution-tide": "Depths are at chart datum; tide, swell and growth change the water above the reef.",
    "caution-dive": "Dive only within your training and local rules; "
    "check current, visibility and traffic first.",
    "caution-anchor": "Do not anchor on the reef. These are memorials: look, and leave them as they are.",
    "download-gpx": "GPX, for plotters and phones",
    "download-kml": "KML, for globes on a screen",
    "download-geojson": "GeoJSON, for maps and desktop GIS",
    "download-csv": "CSV, for spreadsheets",
    # Rules of a permit, by their identifiers.
    "rule-inside-area": "Inside the area",
    "rule-keep-out": "Clear of keep-outs",
    "rule-offshore-distance": "Distance from the shore",
    "rule-spacing": "Distance between modules",
    "rule-target-offset": "Distance from the planned place",
    "rule-depth-band": "Depth of the seabed at a module",
    "rule-clearance": "Water above each module",
    "rule-relief": "Height of a module",
    "rule-stability": "Stability under a wave",
    "rule-capacity": "Number and mass of modules",
    "rule-validity": "Dates of the permit",
    "rule-season": "Season",
    "rule-module-type": "Types of module",
    "rule-duplicate": "One place for each module",
    "rule-position-quality": "How well positions are known",
    "rule-other": "Condition",
}

_NUMBER = re.compile(r"(?<=\d)\.(?=\d)")


@lru_cache(maxsize=8)
def _catalogue(language: str) -> Catalog:
    file = files("registry.documents").joinpath("map_page", "languages", f"{language}.po")
    with file.open("rb") as opened:
        return read_po(opened, locale=language, abort_invalid=True)


@lru_cache(maxsize=8)
def _sentences(language: str) -> Mapping[str, Sentence]:
    if language == "en":
        return ENGLISH
    catalogue = _catalogue(language)
    found: dict[str, Sentence] = {}
    for key, english in ENGLISH.items():
        message = catalogue.get(english[0] if isinstance(english, tuple) else english)
        said = message.string if message is not None else None
        sentence = said if isinstance(said, str) else tuple(said or ())
        found[key] = sentence if sentence and all(sentence) else english
    return found


def _plural(language: str, count: int) -> int:
    """Which of two sentences speaks of a count; by CLDR, as the pages do it."""
    return 0 if Locale(language).plural_form(count) == "one" else 1


def fill(language: str, key: str, values: Mapping[str, object]) -> str:
    """
    Say a sentence as plain text.

    Parameters
    ----------
    language : str
        One of :data:`LANGUAGES`.
    key : str
        Of the sentence.
    values : mapping
        What stands in its braces. A whole number is grouped as the language does it, and ``n`` chooses the
        plural; a text stands as it is.

    Examples
    --------
    >>> fill("en", "modules", {"n": 1}), fill("en", "modules", {"n": 12000})
    ('1 module', '12,000 modules')
    """
    sentence = _sentences(language)[key]
    if not isinstance(sentence, str):
        count = values.get("n")
        plural = _plural(language, count if isinstance(count, int) else 0)
        sentence = sentence[min(plural, len(sentence) - 1)]
    if "{frame}" in sentence and "frame" not in values:
        values = {**values, "frame": fill(language, "epoch-frame", values)}
    shown = {
        name: format_decimal(value, locale=language)
        if isinstance(value, int)
        else told(language, str(value))
        if name in MEASURED
        else str(value)
        for name, value in values.items()
    }
    return re.sub(r"\{(\w+)\}", lambda mark: shown[mark[1]], sentence)


def told(language: str, text: str) -> str:
    """
    Give a text of our own with the decimal mark of a language.

    Examples
    --------
    >>> told("de", "19.68 m"), told("en", "19.68 m")
    ('19,68 m', '19.68 m')
    """
    return _NUMBER.sub(get_decimal_symbol(language), text)


def attribute_words(key: str, values: Mapping[str, object] | None = None) -> str:
    """Give the attributes by which a page says an element again in another language."""
    if not values:
        return f'data-word="{key}"'
    return f'data-word="{key}" data-values="{escape(json.dumps(values, ensure_ascii=False))}"'


def worded(page: str, language: str, values: Mapping[str, object]) -> str:
    """
    Fill in the words of a page: elements that bear the key of a sentence are empty in it.

    Parameters
    ----------
    page : str
        Markup of our own; ``data-word`` asks for the text of its element, ``data-label`` for its label.
    language : str
        In which the page speaks where no script runs.
    values : mapping
        What the sentences may name.
    """

    def say(mark: re.Match[str]) -> str:
        stated = re.search(r'data-values="([^"]*)"', mark[0])
        own = json.loads(unescape(stated[1])) if stated else {}
        return mark[0] + escape(fill(language, mark[1], {**values, **own}), quote=False)

    page = re.sub(r'<[^<>]*\bdata-word="([a-z0-9-]+)"[^<>]*>(?=</)', say, page)
    return re.sub(
        r'data-label="([a-z0-9-]+)"',
        lambda mark: f'{mark[0]} aria-label="{escape(fill(language, mark[1], values))}"',
        page,
    )


def catalogues(keys: Collection[str] | None = None) -> dict[str, dict[str, Any]]:
    """Give every language as the pages read it: its decimal mark, and its sentences by their keys."""
    return {
        language: {
            "mark": get_decimal_symbol(language),
            "text": {key: said for key, said in _sentences(language).items() if keys is None or key in keys},
        }
        for language in LANGUAGES
    }


def language_options() -> str:
    """Give the languages to choose from, each named in itself, as options of a list."""
    return "".join(f'<option value="{tag}" lang="{tag}">{name}</option>' for tag, name in LANGUAGES.items())
