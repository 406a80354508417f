"""The receiver that a server on a boat listens to, as options of its command."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from registry.errors import RequestError

if TYPE_CHECKING:
    from registry.desk.live_position import LiveSource
    from registry.ports import Clock

__all__ = ["listening_to", "live_options", "live_source"]

F = TypeVar("F", bound=Callable[..., Any])


def live_options(function: F) -> F:
    """Accept which receiver is listened to, and what no receiver tells of itself."""
    options = (
        click.option(
            "--listen",
            metavar="SOURCE",
            help="A receiver of the boat: HOST:PORT or /dev/ttyUSB0; kept in files beside the registry.",
        ),
        click.option("--receiver", metavar="CLASS", help="Its class: autonomous, sbas, dgnss, float or rtk."),
        click.option("--frame", metavar="CODE", help="The frame that it is set to, as EPSG:4326."),
        click.option(
            "--lever", metavar="X,Y,Z", help="Antenna to hook: forward, to starboard, down, in metres."
        ),
        click.option("--heading", type=float, metavar="DEG", help="True heading; else HDT of the receiver."),
        click.option(
            "--baud", type=int, default=4800, show_default=True, metavar="RATE", help="Of a serial port."
        ),
    )
    for option in reversed(options):
        function = option(function)
    return function


def live_source(
    registry: Path,
    clock: "Clock",
    *,
    listen: str | None,
    receiver: str | None,
    frame: str | None,
    lever: str | None,
    heading: float | None,
    baud: int,
) -> "LiveSource | None":
    """
    Give the receiver that the options name; None where they name none.

    Raises
    ------
    RequestError
        If its class or frame is missing, or something is said of a receiver that is not listened to.
    LeadlineError
        If something cannot be read.
    """
    if listen is None:
        said = [name for name, text in (("receiver", receiver), ("frame", frame), ("lever", lever)) if text]
        if said:
            what = f"--{said[0]} says something of a receiver, and none is listened to."
            raise RequestError(what, remedy="Add --listen HOST:PORT, or leave it out.")
        return None
    if not receiver or not frame:
        what = "A receiver tells neither how good it is nor the datum that it is set to."
        raise RequestError(what, remedy="Add --receiver CLASS and --frame CODE to --listen.")
    from registry.desk.live_position import LiveSource
    from registry.formats.written_lever import read_lever_arm
    from registry.measure.datum import resolve
    from registry.measure.receiver_class import receiver_class
    from registry.storage.live_log import BAUD_RATES
    from registry.storage.live_receiver import LiveReceiver

    if baud not in BAUD_RATES:
        raise RequestError(f"No port runs at {baud} bit/s.", remedy=f"Give one of {BAUD_RATES}.")
    return LiveSource(
        receiver=LiveReceiver(listen, registry, clock=clock, baud=baud),
        kind=receiver_class(receiver).name,
        frame=resolve(frame).code,
        lever=read_lever_arm(lever, heading_deg=heading) if lever else None,
    )


@contextmanager
def listening_to(live: "LiveSource | None") -> Iterator[None]:
    """Listen while the server runs."""
    if live is None:
        yield
        return
    live.receiver.start()
    try:
        yield
    finally:
        live.receiver.stop()
