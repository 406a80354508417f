"""What the family's own page says of the place: whole sentences, for people who have never seen a chart."""

from registry.documents.certificate_words import datum_words
from registry.documents.language import ENGLISH
from registry.documents.visit import seen_words
from registry.measure.digits import metres_decimals, u95_rounded_up_m
from registry.records.resting_place import RestingPlace
from registry.records.visit import Water

__all__ = ["place_sentences", "seen_sentences", "sure_sentences"]

#: Lengths that people know, to hold a radius against. Units: m. Common knowledge, no source.
_KNOWN = (
    (1.0, "an arm’s length"),
    (2.6, "no more than the height of a room"),
    (5.5, "about the length of a car"),
    (13.0, "about the length of a bus"),
    (30.0, "about the length of a swimming pool"),
)


def place_sentences(place: RestingPlace) -> tuple[str, ...]:
    """Say where it lies and how deep."""
    day = ENGLISH.day(place.placed_on)
    if place.moved:
        found = ENGLISH.day(place.observed_on)
        said = [
            f"It was set on the sea floor on {day}. A survey on {found} found that it had moved since; this"
            " is the place where it lay then."
        ]
    else:
        said = [f"It was set on the sea floor on {day}, and this is the place."]
    if place.charted is None:
        said.append(
            "Nobody has measured the depth where it was found."
            if place.moved
            else "The depth there was not measured."
        )
    else:
        said.append(
            f"The water is {_depth(place.charted, place.charted_over)}, counted from {place.chart_datum}; the"
            f" tide comes on top. {datum_words(place.chart_datum, ENGLISH)}"
        )
    return tuple(said)


def sure_sentences(place: RestingPlace) -> tuple[str, ...]:
    """Say how sure the place is."""
    r95_m = u95_rounded_up_m(place.position.r95_m)
    radius = f"{r95_m:.{metres_decimals(place.position.r95_m)}f}"
    like = next((words for most_m, words in _KNOWN if r95_m <= most_m), "")
    said = [
        f"It lies within {radius} metres of this point{f', {like}' if like else ''}: of twenty places"
        " measured like this one, nineteen are at least that close."
    ]
    said.append(
        "The point is given as satellite receivers show it today (WGS 84). The sea floor itself drifts by"
        " centimetres a year, and this page follows it."
    )
    return tuple(said)


def seen_sentences(place: RestingPlace) -> tuple[str, ...]:
    """Say who looked since, newest first, without a name; a note is the surveyor's own."""
    return tuple(map(seen_words, place.seen)) or ("Nobody has surveyed it since, as far as the record goes.",)


def _depth(seabed: Water, over: Water | None) -> str:
    """Say how deep the sea floor lies, and the module's top; a doubt that both share is said once."""
    if over is None:
        return f"{_metres(seabed)} deep there, give or take {_doubt(seabed)}"
    if _doubt(seabed) == _doubt(over):
        return (
            f"{_metres(seabed)} deep there and {_metres(over)} over its top, each give or take {_doubt(over)}"
        )
    return (
        f"{_metres(seabed)} deep there, give or take {_doubt(seabed)}, and {_metres(over)} over its top, give"
        f" or take {_doubt(over)}"
    )


def _metres(water: Water) -> str:
    return f"{water.value_m:.{metres_decimals(water.u95_m)}f} m"


def _doubt(water: Water) -> str:
    return f"{u95_rounded_up_m(water.u95_m):.{metres_decimals(water.u95_m)}f} m"
