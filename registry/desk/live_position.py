"""Where the hook is by a receiver that is listened to now, and the part of its log that says so."""

import hashlib
from dataclasses import dataclass

import numpy as np

from registry.actions.derive_survey import derive_survey
from registry.errors import NotFoundError
from registry.formats.fix_window import FixWindow, fixes_in
from registry.formats.nmea_log import NmeaLog, read_nmea_logs
from registry.records.derivation import Derivation
from registry.records.fix import QUALITIES
from registry.records.survey import LeverArm, LogFile, LoggedFixes, Survey
from registry.records.surveyed_position import SurveyedPosition
from registry.storage.live_receiver import KeptPiece, LiveReceiver
from registry.storage.received_file import ReceivedFiles

__all__ = ["LiveFix", "LiveSource", "surveyed_live", "watch_live"]

#: How much of a log is looked at first, and at most. Units: bytes.
_FIRST, _MOST = 1 << 16, 1 << 25
#: What of a log is kept before and behind a window, so that days and qualities are known. Units: s.
_MARGIN_S = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveSource:
    """A receiver with what no receiver tells of itself."""

    receiver: LiveReceiver
    #: Name of its class, and the frame that it is set to.
    kind: str
    frame: str
    #: From its antenna to the hook; None where nobody measured it.
    lever: LeverArm | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveFix:
    """What the receiver says at the moment."""

    #: Of the fixes so far; None where there are none.
    derivation: Derivation | None
    n: int
    #: From the first to the last fix, and the instant of the last. Units: s.
    span_s: float
    first_s: float | None
    last_s: float | None
    #: Quality of the last fix, in words.
    quality: str
    #: Why there is nothing to go by, or what else a person should know; may be empty.
    trouble: str


def watch_live(source: LiveSource, *, start_s: float | None) -> LiveFix:
    """
    Average what has come since an instant, or take the last fix alone where none is given.

    Parameters
    ----------
    source : LiveSource
        The receiver.
    start_s : float, optional
        Units: s since 1970-01-01T00:00Z.
    """
    log, pieces = _read(source.receiver, start_s)
    fixes = log.fixes
    trouble = source.receiver.fault
    if not len(fixes):
        trouble = trouble or "Nothing usable has come from the receiver yet."
        return LiveFix(
            derivation=None, n=0, span_s=0.0, first_s=None, last_s=None, quality="", trouble=trouble
        )
    last_s = float(fixes.time_s[-1])
    window = FixWindow("since the averaging began", last_s if start_s is None else start_s, last_s)
    logged = _logged(source, window, log, pieces)
    derivation: Derivation | None = None
    if len(logged.fixes):
        derivation = derive_survey(_survey(source, logged))
    return LiveFix(
        derivation=derivation,
        n=len(logged.fixes),
        span_s=float(np.ptp(logged.fixes.time_s)) if len(logged.fixes) else 0.0,
        first_s=float(logged.fixes.time_s[0]) if len(logged.fixes) else None,
        last_s=last_s,
        quality=QUALITIES.get(int(fixes.quality[-1]), "quality not told"),
        trouble=trouble,
    )


def surveyed_live(source: LiveSource, window: FixWindow, *, kept: ReceivedFiles) -> SurveyedPosition:
    """
    Derive a position from what was received in a window, and keep that part of the log under its digest.

    Parameters
    ----------
    source : LiveSource
        The receiver.
    window : FixWindow
        Of the drop.
    kept : ReceivedFiles
        Keeps that part.

    Raises
    ------
    NotFoundError
        If no usable fix came in the window.
    LeadlineError
        If nothing can be derived from the fixes, or the part cannot be kept.
    """
    log, pieces = _read(source.receiver, window.start_s)
    names, excerpt = _part(log, pieces, window)
    if not excerpt:
        what = f"The receiver {source.receiver.source} gave no usable fix: {window.words}."
        raise NotFoundError(what, remedy="Check the instant, or state the position in another way.")
    kept.keep(excerpt)
    own = KeptPiece(f"part of {names}", excerpt)
    logged = _logged(source, window, read_nmea_logs([excerpt]), (own,))
    survey = _survey(source, logged)
    return SurveyedPosition(survey=survey, derivation=derive_survey(survey))


def _survey(source: LiveSource, logged: LoggedFixes) -> Survey:
    return Survey(frame=source.frame, logged=logged, lever=source.lever)


def _logged(
    source: LiveSource, window: FixWindow, log: NmeaLog, pieces: tuple[KeptPiece, ...]
) -> LoggedFixes:
    files = tuple(
        LogFile(name=piece.name, sha256=hashlib.sha256(piece.content).hexdigest()) for piece in pieces
    )
    return fixes_in(
        window, log, receiver=source.kind, files=files, unpacked=lambda number: pieces[number].content
    )


def _read(receiver: LiveReceiver, start_s: float | None) -> tuple[NmeaLog, tuple[KeptPiece, ...]]:
    """Read so much of the end of the log that it begins before an instant, or all of it."""
    size = _FIRST
    while True:
        pieces = receiver.tail(size)
        log = read_nmea_logs([piece.content for piece in pieces])
        came = sum(len(piece.content) for piece in pieces)
        reached = len(log.fixes) > 0 and (
            start_s is None or float(log.fixes.time_s[0]) < start_s - 2.0 * _MARGIN_S
        )
        if reached or came < size or size >= _MOST:
            return log, pieces
        size *= 4


def _part(log: NmeaLog, pieces: tuple[KeptPiece, ...], window: FixWindow) -> tuple[str, bytes]:
    """Cut out what was received in a window, whole lines of it with a margin, and name the files it is of."""
    if not len(log.fixes.between(window.start_s, window.end_s)):
        return "", b""
    start_s = -np.inf if window.start_s is None else window.start_s - _MARGIN_S
    end_s = np.inf if window.end_s is None else window.end_s + _MARGIN_S
    wide = log.fixes.between(start_s, end_s)
    names, parts = [], []
    for number in np.unique(wide.file).tolist():
        offsets, piece = wide.offset[wide.file == number], pieces[number]
        end = piece.content.find(b"\n", int(offsets.max()))
        part = piece.content[int(offsets.min()) : len(piece.content) if end < 0 else end + 1]
        parts.append(part if part.endswith(b"\n") else part + b"\n")
        names.append(piece.name)
    return " and ".join(names), b"".join(parts)
