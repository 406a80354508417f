"""
What a certificate says, sentence by sentence, in the language of the paper.

Whole sentences stand here, never parts that are put together in the order of English. What a person typed
(names, the reef, the permit, its frame) is said as it was typed, in every language.
"""

import base64
import binascii
import json

from registry.documents.language import Language, wording
from registry.documents.printed_degrees import decimal_degrees
from registry.errors import InvalidRecordError
from registry.measure.digits import metres_decimals, u95_rounded_up_m
from registry.records.certificate import DRIFT_YEARS, NEAR_M, WGS84_TEXT, Certificate
from registry.records.certificate_change import Change, ChangeKind

__all__ = [
    "caution_words",
    "datum_words",
    "facts",
    "frame_words",
    "issued_words",
    "journal_words",
    "labels",
    "place_words",
    "placed_words",
    "plain_words",
    "title_words",
    "verify_words",
    "within_words",
]

#: Digits of the journal's digest that are printed together: as few as ``journal verify --head`` takes.
_HEAD_PART = 16

#: Clockwise from north, 22.5 degrees apart.
_TOWARD = (
    wording("toward the north"),
    wording("toward the north-northeast"),
    wording("toward the northeast"),
    wording("toward the east-northeast"),
    wording("toward the east"),
    wording("toward the east-southeast"),
    wording("toward the southeast"),
    wording("toward the south-southeast"),
    wording("toward the south"),
    wording("toward the south-southwest"),
    wording("toward the southwest"),
    wording("toward the west-southwest"),
    wording("toward the west"),
    wording("toward the west-northwest"),
    wording("toward the northwest"),
    wording("toward the north-northwest"),
)

#: What the usual chart datums are, for a family. Terms of the International Hydrographic Organization's
#: dictionary (S-32), reworded from memory.
_DATUMS = {
    "MLLW": wording("{datum} is mean lower low water, the low-water level to which charts give depths."),
    "MLW": wording("{datum} is mean low water, the average level of the sea at low tide."),
    "LAT": wording(
        "{datum} is the lowest astronomical tide, the lowest level that the tide alone is expected to reach."
    ),
    "MSL": wording("{datum} is the mean sea level, the height of the sea averaged over many years."),
    "CD": wording("{datum} is the chart datum, the low-water level to which the local chart gives depths."),
}

#: What a later version says otherwise.
_CHANGES = {
    ChangeKind.WITHDRAWN: wording("Version {earlier} was withdrawn."),
    ChangeKind.NAME: wording("The name was put right."),
    ChangeKind.RADIUS: wording("How well the position is known was corrected."),
    ChangeKind.DEPTH: wording("What is said of the depth has changed."),
    ChangeKind.DAY: wording("The day of the placement was corrected."),
    ChangeKind.REEF: wording("What is said of the reef has changed."),
    ChangeKind.PERMIT: wording("The permit that is named has changed."),
    ChangeKind.MODULE_TYPE: wording("The type of the module was corrected."),
    ChangeKind.EPOCH: wording("The same place is given in the coordinates of the year {epoch}."),
    ChangeKind.RECORD: wording("Only the entries behind it have changed, nothing that it states."),
}
#: The same where a survey found the module moved: nothing was put right, it lies elsewhere.
_FOUND = {
    ChangeKind.RADIUS: wording("How well the position is known comes from that survey."),
    ChangeKind.DEPTH: wording("The depth where it was found was not measured."),
}
_DISPLACED = {
    ChangeKind.MOVED: wording("A survey found that the module had moved {distance} m ± {doubt} m {toward}."),
    ChangeKind.POSITION: wording("The position was corrected by {distance} m ± {doubt} m {toward}."),
}
_WITHIN_DOUBT = {
    ChangeKind.MOVED: wording("A survey found the module {distance} m away, within the doubt of {doubt} m."),
    ChangeKind.POSITION: wording(
        "The position was corrected by {distance} m, less than its doubt of {doubt} m."
    ),
}


def title_words(c: Certificate, language: Language) -> tuple[str, str]:
    """Give the title and the description by which a reader lists the file."""
    return (
        language.say("Memorial reef certificate {number}: {name}", number=c.number, name=c.memorial_name),
        language.say("Where the memorial module {tag} lies on the sea floor", tag=c.tag),
    )


def labels(language: Language) -> dict[str, str]:
    """Give the words that are the same on every certificate."""
    return {
        "in_memory": language.say("In memory of"),
        "plain": language.say("In plain words"),
        "certificate": language.say("Certificate"),
        "code": language.say("Machine-readable code with the signed statement of this certificate"),
    }


def placed_words(c: Certificate, language: Language) -> str:
    """Say what happened on which day; the place follows on its own line."""
    day = language.day(c.placed_on)
    if c.outside_m > 0:
        return language.say("whose memorial module was set on the sea floor on {day}", day=day)
    return language.say("whose memorial module was set on the sea floor on {day} at", day=day)


def place_words(c: Certificate, language: Language) -> str:
    """Name the reef, in words that never put the module in an area that it does not lie in."""
    if c.outside_m <= 0:
        return c.reef
    if c.outside_m < NEAR_M:
        return language.say("near {reef}", reef=c.reef)
    distance = language.number(c.outside_m / 1000, 1)
    return language.say("{distance} km from {reef}", distance=distance, reef=c.reef)


def frame_words(c: Certificate, language: Language) -> str:
    """Name the frame of the position and the year for which it holds."""
    frame = c.frame_text
    if frame == WGS84_TEXT:
        frame = language.say("WGS 84 (G2296, the same as ITRF2020)")
    return _at_epoch(frame, c.epoch, language)


def within_words(c: Certificate, language: Language) -> str:
    """Say how sure the position is, and which survey found the module there where it had moved."""
    radius = _rounded_up(c.r95_m, language)
    if c.found_on is None:
        return language.say("The module lies within {radius} m of this position (95 %).", radius=radius)
    return language.say(
        "A survey on {day} found the module within {radius} m of this position (95 %).",
        day=language.day(c.found_on),
        radius=radius,
    )


def facts(c: Certificate, language: Language) -> list[tuple[str, str]]:
    """Give the facts beside the chart, each with its label."""
    home = " ".join(decimal_degrees(c.home_lat_deg, c.home_lon_deg, u95_rounded_up_m(c.r95_m), language))
    frame = c.home_frame_name
    if c.home_epoch is not None:
        frame = _at_epoch(frame, c.home_epoch, language)
    return [
        (language.say("Depth of the sea floor"), _depth(c, language)),
        (language.say("Module"), f"{c.tag}, {c.module_type}"),
        (language.say("Permit"), c.permit),
        (language.say("As surveyed"), f"{home}\n{frame}"),
        (language.say("Thirty years on"), _drift(c, language)),
    ]


def plain_words(c: Certificate, language: Language) -> str:
    """Say what the datum, the frame and the letters of the position are, to whoever is no surveyor."""
    said = [
        datum_words(c.chart_datum, language),
        language.say(
            "{frame} is what satellite receivers use; its epoch is the year for which the position holds.",
            frame=c.frame_text.partition(" (")[0],
        ),
    ]
    if not language.is_english:
        said.append(
            language.say(
                "As on receivers, N, S, E and W stand for north, south, east and west, and positions have a "
                "decimal point."
            )
        )
    return " ".join(said)


def datum_words(datum: str, language: Language) -> str:
    """Say what a chart datum is, to whoever is no surveyor."""
    known = _DATUMS.get(datum.upper(), wording("Depths are from the permit’s chart datum."))
    return language.say(known, datum=datum)


def issued_words(c: Certificate, language: Language) -> str:
    """Say who issued it when, which version it is, what it says otherwise and whether it is a duplicate."""
    said = [_version(c, language), *(_change(change, c, language) for change in c.changes)]
    if c.duplicated_on is not None:
        day = language.day(c.duplicated_on)
        said.append(
            language.say("Duplicate {number} of this version, made on {day}.", number=c.duplicate, day=day)
        )
    return " ".join(said)


def verify_words(jws: str, language: Language) -> str:
    """
    Say how the paper is proved.

    Raises
    ------
    InvalidRecordError
        If `jws` is no signed statement.
    """
    return language.say(
        "To prove this certificate, run “leadline authenticate” with the PDF file, or with the text that the "
        "code holds; no network is needed. Signed with the programme's key {key}.",
        key=_key_id(jws),
    )


def journal_words(c: Certificate, language: Language) -> str:
    """Print the digest that proves what the whole registry said that day, and how to hold it against one."""
    digest = " ".join(c.journal_head[i : i + _HEAD_PART] for i in range(0, len(c.journal_head), _HEAD_PART))
    return language.say(
        "Journal head on that day: {digest} · to check it: {command}",
        digest=digest,
        command="leadline journal verify --head",
    )


def caution_words(c: Certificate, language: Language) -> str:
    """Say what the paper is not for, and whom to ask."""
    cautions = language.say(
        "Not for navigation. Depth changes with tide, weather and moving sand; official charts and notices "
        "to mariners go before this paper. Visit, dive and fish by the local rules, within your training, "
        "and with qualified operators. This paper records where the module was set down. It grants no right "
        "and claims no legal authority; the permit and its authority prevail."
    )
    return f"{cautions} {c.authority_note}".strip()


def _version(c: Certificate, language: Language) -> str:
    day = language.day(c.issued_on)
    if c.version == 1:
        return language.say("Issued on {day} by {programme}. Version 1.", day=day, programme=c.programme)
    return language.say(
        "Issued on {day} by {programme}. Version {version}, which supersedes version {earlier}.",
        day=day,
        programme=c.programme,
        version=c.version,
        earlier=c.version - 1,
    )


def _change(change: Change, c: Certificate, language: Language) -> str:
    """Say one thing that this version says otherwise than the one before."""
    if change.distance_m is None or change.bearing_deg is None or change.u95_m is None:
        year = f"{c.epoch:.1f}"
        found = any(each.what is ChangeKind.MOVED for each in c.changes)
        words = _CHANGES | _FOUND if found and c.charted_depth_m is None else _CHANGES
        return language.say(words[change.what], earlier=c.version - 1, epoch=year)
    distance = language.number(change.distance_m, metres_decimals(change.u95_m))
    doubt = _rounded_up(change.u95_m, language)
    if change.distance_m <= change.u95_m:
        # No direction is known of what may be nothing.
        return language.say(_WITHIN_DOUBT[change.what], distance=distance, doubt=doubt)
    return language.say(
        _DISPLACED[change.what],
        distance=distance,
        doubt=doubt,
        toward=_toward(change.bearing_deg, language),
    )


def _toward(bearing_deg: float, language: Language) -> str:
    return language.say(_TOWARD[round(bearing_deg / 22.5) % 16])


def _at_epoch(frame: str, epoch: float, language: Language) -> str:
    # The year of a frame belongs to the coordinates, and has a point like them.
    year = f"{epoch:.1f}"
    return language.say("{frame}, epoch {epoch}", frame=frame, epoch=year)


def _depth(c: Certificate, language: Language) -> str:
    if c.charted_depth_m is None or c.depth_u95_m is None:
        if c.found_on is None:
            unmeasured = wording("The depth was not measured. The chart datum here is {datum}.")
        else:
            unmeasured = wording(
                "The depth where it was found was not measured. The chart datum here is {datum}."
            )
        return language.say(unmeasured, datum=c.chart_datum)
    return language.say(
        "{depth} m ± {doubt} m (95 %) below {datum}",
        depth=language.number(c.charted_depth_m, metres_decimals(c.depth_u95_m)),
        doubt=_rounded_up(c.depth_u95_m, language),
        datum=c.chart_datum,
    )


def _drift(c: Certificate, language: Language) -> str:
    """Say in a sentence how the sea floor moves under a receiver's coordinates."""
    if round(c.drift_m, 1) == 0:
        return language.say(
            "The sea floor here hardly moves: a receiver will show a position less than {distance} m away.",
            distance=language.number(0.1, 1),
        )
    rate_cm = c.drift_m * 100 / DRIFT_YEARS
    return language.say(
        "The sea floor here moves {toward} by about {rate} cm a year; in {year} a receiver will show a "
        "position {distance} m away.",
        toward=_toward(c.drift_azimuth_deg, language),
        rate=language.number(rate_cm, 0 if rate_cm >= 10 else 1),
        year=c.issued_on.year + DRIFT_YEARS,
        distance=language.number(c.drift_m, 1),
    )


def _rounded_up(u95_m: float, language: Language) -> str:
    """Write an uncertainty, rounded up so that print never claims more than is known. Units: m."""
    return language.number(u95_rounded_up_m(u95_m), metres_decimals(u95_m))


def _key_id(jws: str) -> str:
    """Read the name of the key in a JWS header, to print it."""
    head = jws.split(".", maxsplit=1)[0]
    try:
        return str(json.loads(base64.urlsafe_b64decode(head + "=" * (-len(head) % 4)))["kid"])
    except (binascii.Error, ValueError, KeyError, TypeError) as error:
        what = "The statement to be printed on the certificate is not signed."
        raise InvalidRecordError(what, remedy="Sign it with the programme's key first.") from error
