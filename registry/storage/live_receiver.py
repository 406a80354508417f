"""A receiver that is listened to all day, in the background: whatever it sends is kept as it comes."""

import math
import threading
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from registry.errors import LeadlineError
from registry.ports import Clock
from registry.storage.live_log import record_stream

__all__ = ["KeptPiece", "LiveReceiver", "log_place"]

#: How long to wait before a source that broke off is tried again. Units: s.
_AGAIN_S = 2.0


def log_place(registry: Path, at: datetime) -> Path:
    """Give the name of the file, beside the registry, in which what a receiver sends from then on is kept."""
    return registry.with_name(f"{registry.stem}-received-{at:%Y%m%dT%H%M%S}Z.nmea")


@dataclass(frozen=True, slots=True)
class KeptPiece:
    """The end of one kept log."""

    #: Of the file.
    name: str
    content: bytes


class _Stopped(Exception):  # noqa: N818 - no error: the server ends
    pass


class LiveReceiver:
    """
    Listens until it is stopped, and tries again where the source breaks off.

    Parameters
    ----------
    source : str
        ``HOST:PORT``, or a serial device as ``/dev/ttyUSB0``.
    registry : pathlib.Path
        Beside it lie the logs.
    clock : Clock
        Names the logs, and tells how long nothing has come.
    baud : int
        Of a serial port. Units: bit/s.
    """

    def __init__(self, source: str, registry: Path, *, clock: Clock, baud: int = 4800) -> None:
        self.source = source
        self._registry, self._clock, self._baud = registry, clock, baud
        self._ended = threading.Event()
        # What an earlier run kept counts as well: an entry may be sent after the server was started again.
        self._files = sorted(registry.parent.glob(f"{registry.stem}-received-*.nmea"))
        self._fault = ""
        self._thread = threading.Thread(target=self._listen, name="receiver", daemon=True)

    def start(self) -> None:
        """Begin to listen."""
        self._thread.start()

    def stop(self) -> None:
        """End it; what came is on the disk."""
        self._ended.set()
        self._thread.join(timeout=5.0)

    @property
    def fault(self) -> str:
        """What is wrong with the source now, and what to do; empty where nothing is known to be."""
        return self._fault

    @property
    def silent_s(self) -> float:
        """How long nothing has come; infinite where nothing was kept. Units: s."""
        heard = [place.stat().st_mtime for place in self._files if place.exists() and place.stat().st_size]
        if not heard:
            return math.inf
        return (self._clock.now() - datetime.fromtimestamp(max(heard), tz=UTC)).total_seconds()

    def tail(self, size: int) -> tuple[KeptPiece, ...]:
        """Give at most the last `size` bytes of what was kept, oldest first."""
        pieces: list[KeptPiece] = []
        for place in reversed(self._files):
            if size <= 0:
                break
            try:
                with place.open("rb") as kept:
                    length = kept.seek(0, 2)
                    kept.seek(max(0, length - size))
                    content = kept.read()
            except FileNotFoundError:
                continue  # nothing came before it broke off
            pieces.append(KeptPiece(place.name, content))
            size -= len(content)
        return tuple(reversed(pieces))

    def _listen(self) -> None:
        while not self._ended.is_set():
            target = log_place(self._registry, self._clock.now())
            if target not in self._files:
                self._files.append(target)
            try:
                record_stream(
                    self.source, target, seconds=math.inf, baud=self._baud, progress=self._look_around
                )
                self._fault = f"{self.source} broke off; it is tried again."
            except _Stopped:
                return
            except LeadlineError as error:
                self._fault = str(error)
            self._ended.wait(_AGAIN_S)

    def _look_around(self, _elapsed_s: float) -> None:
        self._fault = ""
        if self._ended.is_set():
            raise _Stopped
