"""
Every error that Leadline raises on purpose.

::

    LeadlineError
    ├── RequestError                 what was asked is wrong (exit 2)
    │   ├── PositionTextError        written coordinates that must not yield a number
    │   │   └── AmbiguousPositionError   ... that could mean several things; `readings` tells which
    │   ├── FrameError               a frame, epoch or datum operation that cannot be used
    │   ├── QuantityError            a length, mass or share without a known unit
    │   ├── TimeTextError            an instant without its zone, or unreadable
    │   ├── PermitError              a permit, area or condition that cannot be used
    │   ├── GeometryError            a shape that cannot bound anything
    │   ├── TableError               a spreadsheet whose columns cannot be understood
    │   ├── InvalidRecordError       a record that contradicts itself
    │   ├── NotFoundError            a tag, permit or type that the registry does not hold
    │   ├── ConflictError            something that exists already
    │   ├── UnprintableTextError     text for which the shipped fonts have no glyphs
    │   └── AccessDeniedError        a caller who may not do this, or is not who they say
    │       └── TooManyAttemptsError ... and has tried too often; `retry_after_s` tells how long to wait
    ├── RejectedError                a signature or journal that does not prove what it says (exit 1)
    └── UnavailableError             a registry, file or grid damaged or out of reach (exit 4)
        ├── MissingGridError         a datum operation whose grid file is absent
        ├── UnreadableFileError      a file that is absent, empty or not what its name says
        ├── UnwritableError          a full disk, a read-only folder
        ├── RegistryError            a registry that is absent, truncated or not a registry
        │   └── NewerRegistryError   ... written by a later version
        ├── BusyError                another writer held the registry too long
        └── MissingKeyError          the programme's signing key is not on this machine

Each says what was given and, in ``remedy``, what to do.
"""

from collections.abc import Sequence


class LeadlineError(Exception):
    """The root: a message for a person, with the remedy."""

    exit_code = 2

    def __init__(self, what: str, *, remedy: str = "") -> None:
        self.what = what
        self.remedy = remedy
        super().__init__(f"{what} {remedy}".strip())


class RequestError(LeadlineError):
    """What was asked is wrong."""


class PositionTextError(RequestError):
    """Written coordinates that must not yield a number."""


class AmbiguousPositionError(PositionTextError):
    """Written coordinates that could mean several things, told in ``readings``."""

    def __init__(self, what: str, *, remedy: str = "", readings: Sequence[str] = ()) -> None:
        self.readings = tuple(readings)
        super().__init__(what, remedy=remedy)

    def __str__(self) -> str:
        """Tell the readings too: a reject file has no other place for them."""
        could = f" It could mean: {' | '.join(self.readings)}" if self.readings else ""
        return f"{super().__str__()}{could}"


class FrameError(RequestError):
    """A frame, epoch or datum operation that cannot be used."""


class QuantityError(RequestError):
    """A length, mass or share without a known unit."""


class TimeTextError(RequestError):
    """An instant without its zone, or unreadable."""


class PermitError(RequestError):
    """A permit, area or condition that cannot be used."""


class GeometryError(RequestError):
    """A shape that cannot bound anything."""


class TableError(RequestError):
    """A spreadsheet whose columns cannot be understood."""


class InvalidRecordError(RequestError):
    """A record that contradicts itself."""


class NotFoundError(RequestError):
    """A tag, permit or type that the registry does not hold."""


class ConflictError(RequestError):
    """Something that exists already."""


class UnprintableTextError(RequestError):
    """Text for which the shipped fonts have no glyphs."""


class AccessDeniedError(RequestError):
    """Who asks has not shown who that is, or may not have what was asked for."""


class TooManyAttemptsError(AccessDeniedError):
    """Too many wrong attempts; ``retry_after_s`` tells after how many seconds another one is heard."""

    def __init__(self, what: str, *, remedy: str = "", retry_after_s: int) -> None:
        self.retry_after_s = retry_after_s
        super().__init__(what, remedy=remedy)


class RejectedError(LeadlineError):
    """A signature or a journal that does not prove what it says."""

    exit_code = 1


class UnavailableError(LeadlineError):
    """A registry, file or grid that is damaged or out of reach."""

    exit_code = 4


class MissingGridError(UnavailableError):
    """A datum operation whose grid file is absent."""


class UnreadableFileError(UnavailableError):
    """A file that is absent, empty or not what its name says."""


class UnwritableError(UnavailableError):
    """A full disk or a read-only folder."""


class RegistryError(UnavailableError):
    """A registry that is absent, truncated or not a registry."""


class NewerRegistryError(RegistryError):
    """A registry written by a later version of Leadline."""


class BusyError(UnavailableError):
    """Another writer held the registry too long."""


class MissingKeyError(UnavailableError):
    """The programme's signing key is not on this machine."""
