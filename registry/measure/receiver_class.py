"""What a kind of receiver can be trusted with: rows of data, at 95 %, open sky."""

from dataclasses import dataclass

from registry.errors import QuantityError

__all__ = ["CLASSES", "UNKNOWN", "ReceiverClass", "receiver_class"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReceiverClass:
    """A class of positioning, by how its fixes are corrected."""

    name: str
    #: 95 % horizontal radius of one fix. Units: m.
    r95_m: float
    sentence: str
    source: str


UNKNOWN = ReceiverClass(
    name="unknown",
    r95_m=15.0,
    sentence="nobody said which receiver",
    source="cautious round number: worst-site commitment of the GPS SPS performance standard (from memory)",
)

CLASSES: tuple[ReceiverClass, ...] = (
    UNKNOWN,
    ReceiverClass(
        name="autonomous",
        r95_m=8.0,
        sentence="satellites alone, as on a phone or a plotter without corrections",
        source="GPS SPS performance standard, 5th edition 2020, global average (figure from memory)",
    ),
    ReceiverClass(
        name="sbas",
        r95_m=3.0,
        sentence="satellite-based corrections (WAAS, EGNOS, ...)",
        source="common practice, no source; cautious end of 2-3 m",
    ),
    ReceiverClass(
        name="dgnss",
        r95_m=2.0,
        sentence="differential corrections from a base or a service",
        source="common practice, no source; cautious end of 1-2 m",
    ),
    ReceiverClass(
        name="float",
        r95_m=1.0,
        sentence="real-time kinematic, not fixed",
        source="common practice, no source; cautious end of 0.2-1 m",
    ),
    ReceiverClass(
        name="rtk",
        r95_m=0.2,
        sentence="real-time kinematic fixed, or precise point positioning, converged",
        source="common practice, no source; cautious end of 0.05-0.2 m",
    ),
)


def receiver_class(name: str) -> ReceiverClass:
    """
    Give a receiver class by its name.

    Raises
    ------
    QuantityError
        If there is no such class.

    Examples
    --------
    >>> receiver_class("sbas").r95_m
    3.0
    """
    for row in CLASSES:
        if row.name == name.strip().lower():
            return row
    what = f"{name!r} is no class of receiver."
    raise QuantityError(what, remedy=f"Give one of {', '.join(row.name for row in CLASSES)}.")
