"""What a receiver sends now, by TCP or by a serial port: kept as it comes, before anybody reads it."""

import os
import select
import socket
import time
from collections.abc import Callable
from pathlib import Path
from typing import BinaryIO

from registry.errors import RequestError, UnreadableFileError, UnwritableError

__all__ = ["BAUD_RATES", "record_stream"]

#: Rates of serial ports that receivers use.
BAUD_RATES = (4800, 9600, 19200, 38400, 57600, 115200, 230400)
_PIECE = 1 << 14
_CONNECT_S = 10.0


def record_stream(
    source: str,
    target: Path,
    *,
    seconds: float,
    baud: int = 4800,
    progress: Callable[[float], object] = lambda _elapsed: None,
) -> int:
    """
    Keep what a receiver sends for some seconds in a new file.

    Parameters
    ----------
    source : str
        ``HOST:PORT``, or a serial device as ``/dev/ttyUSB0``.
    target : Path
        The file; it must not exist yet.
    seconds : float
        How long to listen. Units: s.
    baud : int
        Of a serial port. Units: bit/s.
    progress : callable
        Told the seconds that have gone by.

    Returns
    -------
    int
        Number of bytes kept.

    Raises
    ------
    RequestError
        If the source is neither of the two.
    UnreadableFileError
        If it cannot be reached, breaks off before anything came, or sends nothing.
    UnwritableError
        If the file cannot be written.
    """
    try:
        kept = target.open("xb")
    except OSError as error:
        what = f"{target} cannot be written ({error.strerror or error})."
        raise UnwritableError(what, remedy="Check the folder of the registry and its rights.") from error
    with kept:
        try:
            count = _receive(source, kept, seconds, baud, progress)
        except OSError as error:
            count = kept.tell()
            if not count:
                target.unlink()
                what = f"{source} cannot be listened to ({error.strerror or error})."
                remedy = "Check the cable, the address and whether another program holds it."
                raise UnreadableFileError(what, remedy=remedy) from error
        except BaseException:
            if not kept.tell():
                target.unlink()
            raise
        kept.flush()
        os.fsync(kept.fileno())
    if not count:
        target.unlink()
        what = f"{source} sent nothing in {seconds:g} s."
        raise UnreadableFileError(what, remedy="Check that the receiver sends NMEA 0183, and the baud rate.")
    return count


def _receive(
    source: str, kept: BinaryIO, seconds: float, baud: int, progress: Callable[[float], object]
) -> int:
    if source.startswith("/"):
        handle = _open_serial(source, baud)
        try:
            return _keep(handle, kept, seconds, progress)
        finally:
            os.close(handle)
    host, separator, port = source.rpartition(":")
    if not (separator and host and port.isascii() and port.isdigit() and 0 < int(port) < 65536):
        what = f"“{source}” is neither HOST:PORT nor a serial device."
        raise RequestError(what, remedy="Give it as 192.168.1.20:10110 or /dev/ttyUSB0.")
    with socket.create_connection((host.strip("[]"), int(port)), timeout=_CONNECT_S) as connection:
        return _keep(connection.fileno(), kept, seconds, progress)


def _keep(handle: int, kept: BinaryIO, seconds: float, progress: Callable[[float], object]) -> int:
    begun = time.monotonic()
    while (elapsed := time.monotonic() - begun) < seconds:
        progress(elapsed)
        ready, _, _ = select.select([handle], [], [], min(0.5, seconds - elapsed))
        if not ready:
            continue
        piece = os.read(handle, _PIECE)
        if not piece:  # the other side has closed
            break
        kept.write(piece)
        kept.flush()
    return kept.tell()


def _open_serial(device: str, baud: int) -> int:
    """Open a serial port for reading, eight bits without parity, bytes as they come."""
    try:
        import termios
        import tty
    except ImportError as error:  # not a Unix
        what = "Serial ports can be read on Unix only."
        raise RequestError(what, remedy="Let the receiver's own program pass it on by TCP.") from error
    handle = os.open(device, os.O_RDONLY | os.O_NOCTTY | os.O_NONBLOCK)
    try:
        if os.isatty(handle):
            tty.setraw(handle, termios.TCSANOW)  # what has come already is not flushed away
            settings = termios.tcgetattr(handle)
            rate = getattr(termios, f"B{baud}")
            settings[2] |= termios.CLOCAL | termios.CREAD
            settings[4] = settings[5] = rate
            termios.tcsetattr(handle, termios.TCSANOW, settings)
    except termios.error as error:
        os.close(handle)
        raise OSError(str(error)) from error
    return handle
