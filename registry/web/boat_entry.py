"""What the crew keyed in of one drop: the fields of its form, read as a line of the log."""

import hashlib
import re
from collections.abc import Mapping
from datetime import datetime
from typing import TYPE_CHECKING, Any

from fastapi import Request

from registry.errors import RequestError
from registry.formats.log_entry import nothing_assumed, read_log_entry
from registry.formats.written_depth import DEPTH_KINDS
from registry.records.log_row import LogRow
from registry.records.tag_reading import TagReading
from registry.web.forms import FORM_TOKEN, Form
from registry.web.frame_choice import choice_of
from registry.web.opened import settings_of
from registry.web.received import received, sent_files

if TYPE_CHECKING:
    from registry.records.sounding import Sounding
    from registry.records.surveyed_position import SurveyedPosition

__all__ = ["DEPTH_WORDS", "as_keyed", "drop_row", "entry_source", "tag_reading"]

#: Each way in which a depth may be known, in words.
DEPTH_WORDS = {
    "none": "Not measured",
    "plain": "As displayed, of an instrument that nobody knows more of",
    "echo": "Echo sounder",
    "gauge": "Diver's gauge or computer, at the seabed",
    "lead": "Lead line",
    "pressure": "Pressure sensor",
    "chart": "Off the chart",
}
_ENTRY = re.compile(r"[0-9a-f]{32}")
#: What tells of the sending, not of the drop.
_OF_SENDING = (FORM_TOKEN, "entry", "entered_at", "entered_by")
_UNITS = ("m", "ft", "fathoms")


def as_keyed(form: Form) -> dict[str, str]:
    """Give every field of a drop that holds something, as it was keyed in."""
    names = dict.fromkeys(name for name, value in form.fields.multi_items() if isinstance(value, str))
    return {name: form.text(name) for name in names if name not in _OF_SENDING and form.text(name)}


def entry_source(request: Request, form: Form) -> dict[str, Any]:
    """
    Tell where an entry comes from: its own name, what was keyed in, and the photograph, which is kept.

    Raises
    ------
    RequestError
        If the entry has no name of its own, or what was sent as a photograph is none.
    """
    from registry.formats.photograph import photograph_ending

    entry = form.text("entry")
    if not _ENTRY.fullmatch(entry):
        what = "The entry does not bear the mark by which it is recorded once."
        raise RequestError(what, remedy="Open the page of the module anew, and record it there.")
    source: dict[str, Any] = {
        "interface": "boat",
        "key": hashlib.sha256(f"boat\n{entry}".encode()).hexdigest(),
        "said": as_keyed(form),
    }
    for sent in sent_files(form, "photo")[:1]:
        ending = photograph_ending(sent.data)
        digest = received(request).keep(sent.data)
        source["photo"] = {"sha256": digest, "kind": ending, "bytes": len(sent.data)}
    told = {name: form.text(name)[:80] for name in ("entered_at", "entered_by") if form.text(name)}
    return source | ({"keyed": told} if told else {})


def tag_reading(form: Form) -> TagReading | None:
    """
    Give the tag as a diver read it; None where the crew says that nobody has yet.

    Raises
    ------
    RequestError
        If neither is said.
    """
    if form.ticked("unread"):
        return None
    return TagReading(
        diver=form.needed("diver", "The diver who read the tag"),
        tag=form.needed("tag_read", "The tag as the diver read it"),
    )


def drop_row(
    request: Request,
    said: Mapping[str, str],
    *,
    tag: str,
    placed_at: datetime,
    source: Mapping[str, Any],
) -> LogRow:
    """
    Read what was keyed in as a line of the log.

    Parameters
    ----------
    said : mapping
        The fields of the form.
    tag : str
        The module of the page.
    placed_at : datetime.datetime
        Touch-down, or the instant of a check.
    source : mapping
        As `entry_source` gives it; empty for a check.

    Raises
    ------
    LeadlineError
        If something is missing, cannot be read, or would have to be assumed.
    """
    how = said.get("how", "")
    fields = {name: said.get(name, "") for name in ("crew", "vessel", "note")}
    survey: SurveyedPosition | None = None
    if how == "receiver":
        survey = _from_receiver(request, said, placed_at)
    elif how == "tablet":
        from registry.formats.tablet_position import read_tablet_position

        parts = (said.get(f"tablet_{name}", "") for name in ("latitude", "longitude", "accuracy"))
        fields |= read_tablet_position(*parts)
    elif how == "typed":
        fields |= _typed(said)
    else:
        what = "Nothing says how the position is known."
        raise RequestError(what, remedy="Choose the receiver, the tablet's own position, or type it.")
    kind = said.get("depth_kind", "")
    if kind not in DEPTH_WORDS:
        what = "Nothing says how the depth is known."
        raise RequestError(what, remedy="Choose the instrument, or that it was not measured.")
    sounding = _sounding(said, kind, placed_at) if kind in DEPTH_KINDS else None
    if kind == "plain":
        fields |= {"depth": _length(said, "depth"), "tide": _length(said, "tide")}
        fields["depth_u95"] = said.get("depth_u95", "")
        if not fields["depth"]:
            raise RequestError("The depth is empty.", remedy="Fill it in, or choose “not measured”.")
    permit = said.get("permit", "")
    if not permit:
        raise RequestError("No permit is chosen.", remedy="Choose the permit that it lies under.")
    row = read_log_entry(
        fields, tag=tag, permit=permit, placed_at=placed_at, survey=survey, sounding=sounding, source=source
    )
    return row if survey is not None else nothing_assumed(row)


def _typed(said: Mapping[str, str]) -> dict[str, str]:
    quality = said.get("quality", "")
    stated = quality == "stated"
    return {
        "text": said.get("at", ""),
        "frame": choice_of(said.get("frame", ""), said.get("frame_typed", "")) or "",
        "receiver": "" if stated else quality,
        "r95": said.get("r95", "") if stated else "",
    }


def _from_receiver(request: Request, said: Mapping[str, str], placed_at: datetime) -> "SurveyedPosition":
    from registry.desk.live_position import surveyed_live
    from registry.formats.fix_window import window_around, window_between
    from registry.formats.written_instant import read_instant

    live = settings_of(request).live
    if live is None:
        what = "This server listens to no receiver now."
        raise RequestError(
            what, remedy="Start it with: leadline serve --listen SOURCE; then send this again."
        )
    start, end = said.get("fixes_from", ""), said.get("fixes_to", "")
    window = (
        window_between(read_instant(start, None).timestamp(), read_instant(end, None).timestamp())
        if start and end
        else window_around(placed_at.timestamp(), called="touch-down")
    )
    return surveyed_live(live, window, kept=received(request))


def _sounding(said: Mapping[str, str], kind: str, placed_at: datetime) -> "Sounding":
    from registry.formats.noted_sounding import DepthFiles, sounding_from
    from registry.formats.written_quantity import read_length

    lengths = {
        "depth": _length(said, "depth"),
        "u95": said.get("depth_u95", ""),
        "tide": _length(said, "tide"),
        "tide_u95": said.get("tide_u95", ""),
    }
    read = {name: read_length(text) if text else None for name, text in lengths.items()}
    if kind == "pressure":
        read["depth"] = read["u95"] = None
    if kind == "chart":
        read["tide"] = read["tide_u95"] = None
    return sounding_from(
        kind,
        {name: said[f"{kind}_{name}"] for name in DEPTH_KINDS[kind] if said.get(f"{kind}_{name}")},
        DepthFiles(files={}),
        depth=read["depth"],
        u95=read["u95"],
        tide=read["tide"],
        tide_u95=read["tide_u95"] if read["tide"] is not None else None,
        at=placed_at,
    )


def _length(said: Mapping[str, str], name: str) -> str:
    """Give a length with the unit that was chosen beside it, unless it bears its own."""
    text, unit = said.get(name, ""), said.get(f"{name}_unit", "")
    return f"{text} {unit}" if text and text[-1].isdigit() and unit in _UNITS else text
