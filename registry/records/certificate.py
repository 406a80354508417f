"""
The certificate that a family keeps: what it says, its number and the key behind it.

A certificate is made of facts that stand in the journal; nothing here is worked out anew.
"""

import base64
import hashlib
import math
import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from registry.errors import InvalidRecordError
from registry.measure.digits import Notation, coordinate_decimals, metres_decimals, u95_rounded_up_m
from registry.records.certificate_change import Change
from registry.records.entry import canonical_json
from registry.records.language_tag import checked_language_tag
from registry.records.printed_words import LONGEST_NAME, printed_words

__all__ = [
    "NEAR_M",
    "WGS84_TEXT",
    "Certificate",
    "Plan",
    "certificate_number",
    "check_digits",
    "is_statement",
    "key_thumbprint",
    "place_words",
    "programme_initials",
    "read_certificate_number",
]

#: The frame of every position that leaves for a receiver, in full and as signed.
WGS84_TEXT = "WGS 84 (G2296, the same as ITRF2020)"
WGS84_SHORT = "WGS 84 (G2296)"

#: Years ahead for which the drift is told.
DRIFT_YEARS = 30

#: A place outside its area is "near" it up to here; farther off, the distance is told. Units: m.
NEAR_M = 300.0

LONGEST_WORDS = 80
LONGEST_NOTE = 240

#: What a statement has at least.
STATED = frozenset(
    [
        "certificate",
        "version",
        "programme",
        "name",
        "tag",
        "reef",
        "permit",
        "placed",
        "issued",
        "lat",
        "lon",
        "frame",
        "epoch",
        "r95_m",
        "depth_m",
        "depth_u95_m",
        "datum",
        "journal",
    ]
)

_ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_NUMBER = re.compile(r"([A-Z]{1,4})-(\d{4})-(\d{6,9})-(\d{2})", re.ASCII)
_DIGEST = re.compile(r"[0-9a-f]{64}", re.ASCII)


def check_digits(text: str) -> str:
    """
    Compute the two check digits of a text of digits and capital letters; other characters are passed over.

    Definition: ISO/IEC 7064, MOD 97-10: with A written as 10 and Z as 35, the text followed by its check
    digits leaves 1 when divided by 97. They find every wrong character and every two neighbours swapped.

    Sources
    -------
    ISO/IEC 7064:2003, MOD 97-10, as bank account numbers use it (ISO 13616); from memory.

    Examples
    --------
    >>> check_digits("WEST12345698765432GB")
    '82'
    """
    number = int("".join(str(_ALPHABET.index(c)) for c in text if c in _ALPHABET) + "00")
    return f"{98 - number % 97:02d}"


def programme_initials(name: str) -> str:
    """
    Give up to four capital letters that stand for a programme in its certificate numbers.

    Examples
    --------
    >>> programme_initials("Marram Coast Memorial Reefs")
    'MCMR'
    >>> programme_initials("Île d'Été"), programme_initials("海の記念")
    ('IDE', 'X')
    """
    plain = unicodedata.normalize("NFKD", name)
    plain = "".join(c for c in plain if not unicodedata.combining(c)).upper()
    return "".join(word[0] for word in re.findall(r"[A-Z]+", plain))[:4] or "X"


def certificate_number(initials: str, year: int, sequence: int) -> str:
    """
    Make a certificate number: initials, year of issue, sequence in the registry, check digits.

    Raises
    ------
    InvalidRecordError
        If the parts make no number.

    Examples
    --------
    >>> certificate_number("MCMR", 2026, 17)
    'MCMR-2026-000017-85'
    """
    body = f"{initials}-{year:04d}-{sequence:06d}"
    return read_certificate_number(f"{body}-{check_digits(body)}")


def read_certificate_number(text: str) -> str:
    """
    Read a certificate number as typed by a person and give it in its one form.

    Raises
    ------
    InvalidRecordError
        If it is not a number, or its check digits do not fit: something was mistyped.

    Examples
    --------
    >>> read_certificate_number(" mcmr-2026-000017-85 ")
    'MCMR-2026-000017-85'
    """
    number = text.strip().upper()
    match = _NUMBER.fullmatch(number)
    if match is None:
        what = f"{text!r} is not a certificate number."
        raise InvalidRecordError(what, remedy="Give it as printed: letters, year, sequence, check digits.")
    body = number[:-3]
    if check_digits(body) != match[4]:
        what = f"Certificate number {text.strip()!r} does not fit its check digits."
        raise InvalidRecordError(what, remedy="Compare it with the paper, character by character.")
    return number


def key_thumbprint(public_key: bytes) -> str:
    """
    Compute the name of an Ed25519 public key, by which signatures refer to it.

    Definition: base64url of the SHA-256 of ``{"crv":"Ed25519","kty":"OKP","x":...}``.

    Parameters
    ----------
    public_key : bytes
        The raw key, 32 bytes.

    Raises
    ------
    InvalidRecordError
        If the key has another length.

    Sources
    -------
    RFC 7638 (JWK thumbprint) with the members that RFC 8037, section 2, requires.
    """
    if len(public_key) != 32:
        what = f"A public key of {len(public_key)} bytes is not an Ed25519 key."
        raise InvalidRecordError(what, remedy="Give the 32 bytes of the raw key.")
    x = base64.urlsafe_b64encode(public_key).rstrip(b"=").decode()
    digest = hashlib.sha256(canonical_json({"crv": "Ed25519", "kty": "OKP", "x": x}).encode()).digest()
    return base64.urlsafe_b64encode(digest).rstrip(b"=").decode()


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What the small chart shows around the module; longitude, latitude in WGS 84, units: degrees."""

    #: Outlines of the permit area, outer and inner rings alike.
    rings: tuple[tuple[tuple[float, float], ...], ...] = ()
    #: Other modules at rest nearby, without names.
    others: tuple[tuple[float, float], ...] = ()

    def __post_init__(self) -> None:
        """Refuse what cannot be drawn."""
        for lon_deg, lat_deg in [point for ring in self.rings for point in ring] + list(self.others):
            _check_place("The chart", lat_deg, lon_deg)


@dataclass(frozen=True, slots=True, kw_only=True)
class Certificate:
    """One certificate as issued. Words are kept in Unicode form NFC."""

    #: As made by :func:`certificate_number`; the version counts from 1, each supersedes the one before.
    number: str
    version: int
    programme: str
    #: The name as it is to be printed, and its language where it is known (BCP 47, as "vi" or "zh-Hant").
    memorial_name: str
    language: str | None = None
    tag: str
    module_type: str
    #: The permit area as people call it, and the permit's number.
    reef: str
    permit: str
    #: How far outside that area the module lies, 0 inside it. Units: m.
    outside_m: float = 0.0
    #: Day of placement in the site's own zone.
    placed_on: date
    #: WGS 84 at `epoch`. Units: degrees, decimal year.
    lat_deg: float
    lon_deg: float
    epoch: float
    frame_text: str = WGS84_TEXT
    #: The same place in the programme's plate-fixed frame, as surveyed. Units: degrees, decimal year.
    home_lat_deg: float
    home_lon_deg: float
    home_frame_name: str
    home_epoch: float | None
    #: Radius within which the module lies with 95 % probability. Units: m.
    r95_m: float
    #: Depth of the seabed below the chart datum and its 95 % uncertainty, None where not measured. Units: m.
    charted_depth_m: float | None = None
    depth_u95_m: float | None = None
    chart_datum: str
    issued_on: date
    #: Digest of the journal's last entry when this was issued.
    journal_head: str
    #: How far, and toward which azimuth, a WGS 84 position moves in 30 years. Units: m, degrees from north.
    drift_m: float
    drift_azimuth_deg: float
    plan: Plan = Plan()
    #: Day of the survey that found the module moved and here; None where it lies as it was placed.
    found_on: date | None = None
    #: What it says otherwise than the version before; empty for the first.
    changes: tuple[Change, ...] = ()
    #: Which further paper of this version it is, and when that was made; 0 for the first paper.
    duplicate: int = 0
    duplicated_on: date | None = None
    #: Whom to ask about the permit; no claim of authority.
    authority_note: str = ""

    def __post_init__(self) -> None:
        """Refuse what no family should be handed."""
        read_certificate_number(self.number)
        for name, longest in {
            "programme": LONGEST_WORDS,
            "memorial_name": LONGEST_NAME,
            "tag": LONGEST_WORDS,
            "module_type": LONGEST_WORDS,
            "reef": LONGEST_WORDS,
            "permit": LONGEST_WORDS,
            "frame_text": LONGEST_WORDS,
            "home_frame_name": LONGEST_WORDS,
            "chart_datum": LONGEST_WORDS,
            "authority_note": LONGEST_NOTE,
        }.items():
            words = printed_words(
                f"certificate's {name.replace('_', ' ')}" if name != "memorial_name" else "memorial name",
                getattr(self, name),
                longest=longest,
                may_be_empty=name == "authority_note",
            )
            object.__setattr__(self, name, words)
        _check_place("The certificate", self.lat_deg, self.lon_deg)
        _check_place("The certificate's home position", self.home_lat_deg, self.home_lon_deg)
        self._check_numbers()
        checked_language_tag(self.language)
        if not _DIGEST.fullmatch(self.journal_head):
            what = f"{self.journal_head!r} is not the digest of a journal entry."
            raise InvalidRecordError(what, remedy="Give the 64 hexadecimal digits of the journal's head.")
        if self.duplicate < 0 or (self.duplicate > 0) != (self.duplicated_on is not None):
            what = f"Duplicate {self.duplicate} of {self.duplicated_on} is not one."
            raise InvalidRecordError(what, remedy="Count duplicates from 1 and give the day of each.")
        if self.issued_on < self.placed_on:
            what = f"The certificate is dated {self.issued_on}, before the placement on {self.placed_on}."
            raise InvalidRecordError(what, remedy="Check the clock of this machine and the placement's time.")

    def _check_numbers(self) -> None:
        depth_m, u95_m = self.charted_depth_m, self.depth_u95_m
        numbers = {
            "version": self.version,
            "epoch": self.epoch,
            "R95": self.r95_m,
            "drift": self.drift_m,
            "drift azimuth": self.drift_azimuth_deg,
            "home epoch": self.home_epoch,
            "depth": depth_m,
            "depth's uncertainty": u95_m,
            "distance from the area": self.outside_m,
        }
        for name, value in numbers.items():
            if value is not None and not math.isfinite(value):
                what = f"The certificate's {name} is {value}."
                raise InvalidRecordError(what, remedy="Give a finite number.")
        if self.version < 1 or self.r95_m <= 0 or self.drift_m < 0 or self.outside_m < 0:
            lengths = f"R95 {self.r95_m} m, drift {self.drift_m} m, {self.outside_m} m off the area"
            what = f"Version {self.version}, {lengths} cannot be."
            raise InvalidRecordError(
                what, remedy="Give a version from 1, an R95 above 0 m and no negative length."
            )
        if (depth_m is None) != (u95_m is None) or (u95_m is not None and u95_m <= 0):
            what = f"A depth of {depth_m} m ± {u95_m} m is not one."
            raise InvalidRecordError(what, remedy="Give the depth with its 95 % uncertainty, or neither.")

    @property
    def place(self) -> str:
        """The reef, in words that never put the module in an area that it does not lie in."""
        return place_words(self.reef, self.outside_m)

    def decimals(self, notation: Notation) -> int:
        """Give the decimals of the position: those that the R95 supports as it is printed."""
        return coordinate_decimals(notation, u95_rounded_up_m(self.r95_m))

    def statement(self) -> dict[str, Any]:
        """
        Give the facts that the printed page states, as they are printed, for signing.

        Returns
        -------
        dict
            Plain JSON values; latitude and longitude in degrees at `epoch`, lengths in metres, days as
            ISO 8601. Positions and depth are rounded as on the page, so that the paper can be held
            against it. ``depth_m`` is None where nobody measured the depth; ``outside_m`` is there only
            where the module lies outside the reef that is named. No word of it belongs to a language, so
            that one statement stands behind the paper in every language. Only where they apply there are
            ``found``, the day on which the module was found there; ``changed``, what a later version says
            otherwise; ``duplicate`` and ``duplicated``, the number and day of a further paper.
        """
        decimals = self.decimals(Notation.DEGREES)
        depth_m, u95_m = self.charted_depth_m, self.depth_u95_m
        if depth_m is not None and u95_m is not None:
            depth_m, u95_m = round(depth_m, metres_decimals(u95_m)), u95_rounded_up_m(u95_m)
        outside_m = round(self.outside_m, metres_decimals(self.r95_m))
        stated: dict[str, Any] = {
            "certificate": self.number,
            "version": self.version,
            "programme": self.programme,
            "name": self.memorial_name,
            "tag": self.tag,
            "reef": self.reef,
            **({"outside_m": outside_m} if self.outside_m > 0 else {}),
            "permit": self.permit,
            "placed": self.placed_on.isoformat(),
            "issued": self.issued_on.isoformat(),
            "lat": round(self.lat_deg, decimals),
            "lon": round(self.lon_deg, decimals),
            "frame": WGS84_SHORT if self.frame_text == WGS84_TEXT else self.frame_text,
            "epoch": round(self.epoch, 1),
            "r95_m": u95_rounded_up_m(self.r95_m),
            "depth_m": depth_m,
            "depth_u95_m": u95_m,
            "datum": self.chart_datum,
            "journal": self.journal_head,
        }
        if self.found_on is not None:
            stated["found"] = self.found_on.isoformat()
        if self.changes:
            stated["changed"] = [str(change.what) for change in self.changes]
        if self.duplicated_on is not None:
            stated |= {"duplicate": self.duplicate, "duplicated": self.duplicated_on.isoformat()}
        return stated


def place_words(reef: str, outside_m: float) -> str:
    """
    Name a place by its reef, in words that never put the module in an area that it does not lie in.

    Examples
    --------
    >>> [place_words("Gannet Patch", outside_m) for outside_m in (0.0, 12.0, 8312.0)]
    ['Gannet Patch', 'near Gannet Patch', '8.3 km from Gannet Patch']
    """
    if outside_m <= 0:
        return reef
    if outside_m < NEAR_M:
        return f"near {reef}"
    return f"{outside_m / 1000:.1f} km from {reef}"


def is_statement(value: Mapping[str, Any]) -> bool:
    """Tell whether something signed has every member that a certificate states."""
    return STATED.issubset(value)


def _check_place(what: str, lat_deg: float, lon_deg: float) -> None:
    if not (math.isfinite(lat_deg) and math.isfinite(lon_deg) and abs(lat_deg) <= 90 and abs(lon_deg) <= 360):
        problem = f"{what}: {lat_deg}, {lon_deg} is not a latitude and a longitude."
        raise InvalidRecordError(problem, remedy="Give finite degrees.")
