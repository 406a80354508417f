"""
The tokens of a written position, gathered into angles: which digits, marks, signs and letters go together.

Nothing is judged here beyond what tells one angle from the next.
"""

import re
from dataclasses import dataclass, field

from registry.errors import PositionTextError
from registry.formats.angle_pair import quoted

__all__ = ["AngleDraft", "gather_angles"]

_TOKEN = re.compile(
    r"(?P<number>[0-9]+(?:\.[0-9]+)*|\.[0-9]+(?:\.[0-9]+)*)|(?P<word>[^\W\d_]+\.?)|(?P<mark>[°'\"])|(?P<sep>[,;/|])"
    r"|(?P<sign>[+-])|(?P<colon>[:=])|(?P<blank>[\s()]+)|(?P<odd>.)",
    re.DOTALL,
)
_LETTER_AMONG_DIGITS = re.compile(r"[0-9.]([OoQIl])[0-9.]")
_EXPONENT = re.compile(r"[0-9][eE][+-]?[0-9]")

_HEMISPHERES = {
    **dict.fromkeys(("n", "north", "nord", "norte", "norden"), "N"),
    **dict.fromkeys(("s", "south", "sud", "sur", "süd", "süden", "sul"), "S"),
    **dict.fromkeys(("e", "east", "est", "este", "ost", "osten", "leste"), "E"),
    **dict.fromkeys(("w", "west", "oeste", "ouest", "westen"), "W"),
}
_AXES = {
    **dict.fromkeys(("lat", "latitude", "latitud", "breite"), "lat"),
    **dict.fromkeys(("lon", "long", "lng", "longitude", "longitud", "länge"), "lon"),
}
#: In these languages the letter O stands for one direction only.
_O_BY_LABEL = {"latitud": "W", "longitud": "W", "breite": "E", "länge": "E"}
_MARKS = {
    **dict.fromkeys(("d", "deg", "degs", "degree", "degrees", "grados", "degrés", "grad"), "°"),
    **dict.fromkeys(("m", "min", "mins", "minute", "minutes", "minutos", "minuten"), "'"),
    **dict.fromkeys(("sec", "secs", "second", "seconds", "segundos", "secondes", "sekunden"), '"'),
}
_FILLERS = frozenset(("and", "at", "pos", "position", "coordinates", "coords", "gps", "datum"))
_NUMBER_WORDS = frozenset(
    ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
     "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
     "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety", "hundred")
)  # fmt: skip
_RELATIVE_WORDS = frozenset(
    ("nm", "nmi", "mile", "miles", "mi", "km", "kn", "yards", "feet", "ft", "off", "of", "from", "the",
     "buoy", "inlet", "jetty", "bearing", "range", "true")
)  # fmt: skip


@dataclass(slots=True)
class AngleDraft:
    """One angle while its tokens are gathered."""

    axis: str = ""
    hemisphere: str = ""
    sign: str = ""
    #: A dash stood before it that could be a minus or only a separator.
    dashed: bool = False
    #: Its letter was O.
    letter_o: bool = False
    fields: list[str] = field(default_factory=list)
    marks: list[str] = field(default_factory=list)
    #: Hyphens and colons between its fields: how many fields stand before each.
    joins: dict[int, str] = field(default_factory=dict)
    #: Nothing more belongs to it.
    ended: bool = False

    @property
    def known_axis(self) -> str:
        """The axis that its label or its letter names."""
        if self.letter_o:
            return "lon"
        if self.hemisphere:
            return "lat" if self.hemisphere in "NS" else "lon"
        return self.axis


def gather_angles(text: str, plain: str) -> list[AngleDraft]:
    """
    Gather the angles of a text in the order in which they stand.

    Parameters
    ----------
    text : str
        What was given, verbatim, for messages.
    plain : str
        The same with signs and blanks made plain and without words for the datum.

    Raises
    ------
    PositionTextError
        If a character, word, sign or mark has no place in a position, or the text holds no digits.

    Examples
    --------
    >>> [(a.fields, a.marks, a.hemisphere) for a in gather_angles("", "33°45.123' N, 78 12.456 W")]
    [(['33', '45.123'], ['°', "'"], 'N'), (['78', '12.456'], ['', ''], 'W')]
    """
    _refuse_broken_numbers(text, plain)
    return _Gathering(text).gather(_decimal_points(plain))


def _refuse_broken_numbers(text: str, plain: str) -> None:
    if found := _LETTER_AMONG_DIGITS.search(plain):
        digit = "0" if found[1] in "OoQ" else "1"
        raise PositionTextError(
            f"{quoted(text)}: the letter {found[1]} stands among digits.",
            remedy=f"Type the digit {digit} if that is meant.",
        )
    if _EXPONENT.search(plain):
        raise PositionTextError(
            f"{quoted(text)} is in spreadsheet notation with E, in which digits are already lost.",
            remedy="Copy the full number; before or after the letter E for East leave a blank.",
        )


def _decimal_points(plain: str) -> str:
    """Turn decimal commas into points: commas between digits where no number has a point."""
    if "," not in plain or re.search(r"[0-9]\.[0-9]", plain):
        return plain
    return re.sub(r"(?<=[0-9]),(?=[0-9])", ".", plain)


def _name(word: str) -> str:
    """Give the form under which a word is looked up."""
    return word.rstrip(".").lower()


class _Gathering:
    """One pass over the tokens of one text."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.drafts: list[AngleDraft] = [AngleDraft()]
        self.letters_first = False
        self.labels_first = False
        self.lettered_marks = False
        self.o_means = ""
        #: The dash just met may be a minus or a separator.
        self.dash = False

    def gather(self, plain: str) -> list[AngleDraft]:
        """Give the angles in the order in which they stand."""
        tokens = [(str(m.lastgroup), m[0], m.start()) for m in _TOKEN.finditer(plain)]
        solid = [
            token
            for token in tokens
            if token[0] != "blank" and not (token[0] == "word" and _name(token[1]) in _FILLERS)
        ]
        if not any(kind == "number" for kind, _, _ in solid):
            self._refuse_words(solid)
        handlers = {
            "number": self._number,
            "word": self._word,
            "mark": self._mark,
            "sep": self._separator,
            "sign": self._sign,
            "colon": self._colon,
            "odd": self._odd,
        }
        for i, (kind, _, _) in enumerate(solid):
            handlers[kind](plain, solid, i)
        return self._split([draft for draft in self.drafts if draft != AngleDraft(ended=draft.ended)])

    @property
    def current(self) -> AngleDraft:
        return self.drafts[-1]

    def _fresh(self) -> AngleDraft:
        """Give the angle that is being gathered, a new one if the last is complete."""
        if self.current.ended:
            self.drafts.append(AngleDraft())
        return self.current

    def _number(self, plain: str, solid: list[tuple[str, str, int]], i: int) -> None:
        digits = solid[i][1]
        if digits.count(".") > 1:
            raise self._two_points(digits)
        draft = self._fresh()
        if draft.fields and ("." in draft.fields[-1] or draft.marks[-1] == '"'):
            draft.ended = True
            draft = self._fresh()
        if self.dash and not draft.fields:
            draft.dashed = True
        self.dash = False
        draft.fields.append("0" + digits if digits.startswith(".") else digits)
        draft.marks.append("")

    def _two_points(self, digits: str) -> PositionTextError:
        first, second, *rest = digits.split(".")
        readings = f"{first}°{second}.{''.join(rest)}' and {first}°{second}'{'.'.join(rest)}\""
        if len(second) > 2:
            readings = "the readings"
        return PositionTextError(
            f"{quoted(self.text)}: {digits} has two points in one number; {readings} cannot be told apart.",
            remedy="Put blanks between degrees, minutes and seconds and keep one decimal point.",
        )

    def _word(self, plain: str, solid: list[tuple[str, str, int]], i: int) -> None:
        _, word, start = solid[i]
        name = _name(word)
        glued = start > 0 and plain[start - 1].isdigit()
        if name == "s" and glued and self.lettered_marks and len(self.current.fields) == 3:
            self._put_mark('"')
        elif name in _HEMISPHERES:
            self._hemisphere(solid, i, _HEMISPHERES[name])
        elif name == "o":
            self._hemisphere(solid, i, self.o_means or "O")
        elif name in _AXES:
            self.o_means = _O_BY_LABEL.get(name, self.o_means)
            self._label(solid, i, _AXES[name])
        elif name in _MARKS:
            self.lettered_marks = True
            self._put_mark(_MARKS[name])
        elif not name.isalpha():
            raise self._odd_character(word[0])
        else:
            raise self._unknown_word(word, solid)

    def _hemisphere(self, solid: list[tuple[str, str, int]], i: int, letter: str) -> None:
        following = solid[i + 1] if i + 1 < len(solid) else ("end", "", 0)
        axis = "lat" if letter in "NS" else "lon"
        draft = self.current
        next_label = _AXES.get(_name(following[1])) if following[0] == "word" else None
        belongs_to_next = (
            (next_label == axis and draft.axis not in ("", axis))  # "LAT: 33 45 07  E LON: 281 47 32"
            or (draft.ended and following[0] in ("number", "sign"))
            or self.letters_first
        )
        if draft.fields and not belongs_to_next:
            if draft.hemisphere or draft.letter_o:
                raise self._stray(letter)
            draft.ended = True
        else:
            if draft.fields:
                draft.ended = True
            elif draft.hemisphere or draft.letter_o:
                raise self._stray(letter)
            draft = self._fresh()
            self.letters_first = self.letters_first or not self._any_fields()
        draft.letter_o = letter == "O"
        draft.hemisphere = "" if letter == "O" else letter

    def _any_fields(self) -> bool:
        return any(draft.fields for draft in self.drafts)

    def _stray(self, letter: str) -> PositionTextError:
        return PositionTextError(
            f"{quoted(self.text)}: the letter {letter} belongs to no number.",
            remedy="Write one letter with each number, as 33 45.123 N 78 12.456 W.",
        )

    def _label(self, solid: list[tuple[str, str, int]], i: int, axis: str) -> None:
        draft = self.current
        if draft.fields and not draft.axis and not self.labels_first:
            draft.axis = axis  # "33.75 N lat, 78.2 W lon"
            draft.ended = True
            return
        self.labels_first = True
        if draft.fields:
            draft.ended = True
        draft = self._fresh()
        if draft.axis:
            raise PositionTextError(
                f"{quoted(self.text)}: {solid[i][1]} stands without a number.",
                remedy="Write a number behind each label.",
            )
        draft.axis = axis

    def _mark(self, plain: str, solid: list[tuple[str, str, int]], i: int) -> None:
        self._put_mark(solid[i][1])

    def _put_mark(self, mark: str) -> None:
        draft = self.current
        if not draft.fields or draft.marks[-1]:
            raise PositionTextError(
                f"{quoted(self.text)}: the mark {mark} stands behind no number.",
                remedy="Write marks as in 33°45'07.38\" N.",
            )
        if mark == "°" and "°" in draft.marks:  # the number begins the next angle
            number = draft.fields.pop()
            draft.marks.pop()
            draft.ended = True
            draft = self._fresh()
            draft.fields.append(number)
            draft.marks.append("")
        draft.marks[-1] = mark

    def _separator(self, plain: str, solid: list[tuple[str, str, int]], i: int) -> None:
        if self.current.fields:
            self.current.ended = True

    def _sign(self, plain: str, solid: list[tuple[str, str, int]], i: int) -> None:
        _, sign, start = solid[i]
        following = solid[i + 1] if i + 1 < len(solid) else ("end", "", 0)
        if following[0] not in ("number", "word"):
            raise PositionTextError(
                f"{quoted(self.text)}: the sign {sign} stands before no number.",
                remedy="Write the sign once, directly before the degrees.",
            )
        draft = self.current
        glued_before = start > 0 and not plain[start - 1].isspace()
        glued_after = following[2] == start + 1
        before = solid[i - 1][0] if i else "start"
        behind_angle = bool(draft.fields) and before not in ("sep", "start")
        if sign == "-" and behind_angle and (glued_before or not glued_after):
            whole = "." not in draft.fields[-1] and not draft.ended
            if (whole and before == "number") or (whole and solid[i - 1][1] == "°" and glued_after):
                draft.joins[len(draft.fields)] = sign  # a hyphen between degrees and minutes: 33-45.123
                return
            draft.ended = True
            self.dash = True
            return
        if draft.fields:
            draft.ended = True
        if following[0] == "word":  # "- W 78" is a dash, not a minus
            self.dash = True
            return
        draft = self._fresh()
        draft.sign = sign

    def _colon(self, plain: str, solid: list[tuple[str, str, int]], i: int) -> None:
        before = solid[i - 1][0] if i else "start"
        if before not in ("number", "word"):
            raise self._odd_character(solid[i][1])
        if before == "number":
            self.current.joins[len(self.current.fields)] = ":"

    def _odd(self, plain: str, solid: list[tuple[str, str, int]], i: int) -> None:
        raise self._odd_character(solid[i][1])

    def _odd_character(self, character: str) -> PositionTextError:
        shown = character if character.isprintable() else ""
        return PositionTextError(
            f"{quoted(self.text)}: the character {shown} (U+{ord(character):04X}) is not understood.".replace(
                "  ", " "
            ),
            remedy="Use digits, a point, the letters N S E W, signs and the marks ° ' \".",
        )

    def _refuse_words(self, solid: list[tuple[str, str, int]]) -> None:
        words = {_name(token) for kind, token, _ in solid if kind == "word"}
        if words & {"nan"}:
            raise PositionTextError(f"{quoted(self.text)} is not a number.", remedy="Give the position.")
        if words & {"inf", "infinity"}:
            raise PositionTextError(f"{quoted(self.text)} is infinite.", remedy="Give the position.")
        if words & _NUMBER_WORDS:
            raise PositionTextError(
                f"{quoted(self.text)} writes numbers as words.", remedy="Write the numbers in digits."
            )
        raise PositionTextError(
            f"{quoted(self.text)} holds no coordinate.",
            remedy="Give latitude and longitude, as 33 45.123 N 78 12.456 W.",
        )

    def _unknown_word(self, word: str, solid: list[tuple[str, str, int]]) -> PositionTextError:
        name = _name(word)
        words = {_name(token) for kind, token, _ in solid if kind == "word"}
        if name in ("nan", "inf", "infinity"):
            fault = "not a number" if name == "nan" else "infinite"
            return PositionTextError(
                f"{quoted(self.text)} is {fault} in one place.", remedy="Give the position."
            )
        if words & _RELATIVE_WORDS:
            return PositionTextError(
                f"{quoted(self.text)} describes a place in relation to another.",
                remedy="Keep it as a note, and give latitude and longitude.",
            )
        if len(name) == 1:
            return PositionTextError(
                f"{quoted(self.text)}: {word} is not a hemisphere.", remedy="Use one of N, S, E, W."
            )
        return PositionTextError(
            f"{quoted(self.text)}: the word {word} is not understood.",
            remedy="Leave it out; a datum is written as NAD83(2011), NAD83, NAD27, WGS84 or EPSG:6318.",
        )

    def _split(self, drafts: list[AngleDraft]) -> list[AngleDraft]:
        """Halve a single run of whole numbers: 33 45 78 12."""
        if len(drafts) != 1:
            return drafts
        run = drafts[0]
        count = len(run.fields)
        if count not in (2, 4, 6) or any(run.marks):
            return drafts
        if count == 2 and (run.hemisphere or run.axis):
            return drafts
        half = count // 2
        if run.joins.get(half) == ":":
            return drafts
        ahead = self.letters_first or bool(run.axis)
        letter = {"axis": run.axis, "hemisphere": run.hemisphere, "letter_o": run.letter_o}
        first = AngleDraft(fields=run.fields[:half], marks=[""] * half, sign=run.sign, dashed=run.dashed)
        second = AngleDraft(fields=run.fields[half:], marks=[""] * half, dashed=half in run.joins)
        for name, value in letter.items():
            setattr(first if ahead else second, name, value)
        return [first, second]
