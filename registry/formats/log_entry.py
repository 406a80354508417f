"""One placement as somebody states it, field by field: texts read into a line of the log."""

from collections.abc import Mapping
from datetime import datetime
from typing import TYPE_CHECKING, Any

from registry.errors import FrameError, PositionTextError, QuantityError
from registry.formats.written_position import read_position_in
from registry.formats.written_quantity import read_length
from registry.records.log_row import LogRow
from registry.records.quantity import Quantity

if TYPE_CHECKING:
    from registry.records.sounding import Sounding
    from registry.records.surveyed_position import SurveyedPosition

__all__ = ["nothing_assumed", "read_log_entry"]


def read_log_entry(
    said: Mapping[str, Any],
    *,
    tag: str,
    permit: str,
    placed_at: datetime,
    survey: "SurveyedPosition | None" = None,
    sounding: "Sounding | None" = None,
    source: Mapping[str, Any],
) -> LogRow:
    """
    Read what was stated of one placement.

    Parameters
    ----------
    said : mapping
        Texts under the names "text" (the position), "frame", "r95", "receiver", "depth", "depth_u95", "tide",
        "type_id", "crew", "vessel", "note", and the number "epoch"; None or nothing where nothing was said.
    tag, permit : str
        Which module, under which permit.
    placed_at : datetime
        Touch-down, with its zone.
    survey : SurveyedPosition, optional
        The position, where it was derived: its frame and epoch count, and a class of receiver is in it.
    sounding : Sounding, optional
        The depth off an instrument, instead of "depth", "depth_u95" and "tide".
    source : mapping
        Where the line came from.

    Raises
    ------
    LeadlineError
        If a text cannot be read, or there are two positions, or none.

    Examples
    --------
    >>> from datetime import UTC
    >>> said = {"text": "34 01.250 N 077 20.110 W", "frame": "EPSG:4326", "depth": "61 ft"}
    >>> noon = datetime(2026, 6, 14, 12, tzinfo=UTC)
    >>> read_log_entry(said, tag="MC-0017", permit="HB-0417", placed_at=noon, source={}).depth.written
    '61 ft'
    """
    if (survey is not None) == bool(said.get("text")):
        what = "Two positions are given: a written and a derived one." if survey else "No position is given."
        raise PositionTextError(what, remedy="Give one: as written, or as a receiver or survey found it.")
    if survey is not None:
        position = survey.derivation.position
        where: dict[str, Any] = {
            "position": survey.written,
            "survey": survey,
            "frame": position.frame,
            "epoch": position.epoch,
        }
    else:
        where = {
            "position": read_position_in(said["text"], said.get("frame") or None),
            "frame": said.get("frame") or None,
            "epoch": said.get("epoch"),
            "receiver": said.get("receiver") or "",
        }
    plain = sounding is None
    return LogRow(
        tag=tag,
        permit=permit,
        placed_at=placed_at,
        **where,
        r95=_length(said, "r95"),
        depth=_length(said, "depth") if plain else None,
        depth_u95=_length(said, "depth_u95") if plain else None,
        tide=_length(said, "tide") if plain else None,
        sounding=sounding,
        type_id=said.get("type_id") or "",
        crew=said.get("crew") or "",
        vessel=said.get("vessel") or "",
        note=said.get("note") or "",
        source=source,
    )


def nothing_assumed(row: LogRow) -> LogRow:
    """
    Give a line back that says itself which datum its position is in and how well it is known.

    Raises
    ------
    FrameError, QuantityError
        If it does not: where many people key in positions, nothing is taken for granted.
    """
    position = row.position
    if row.frame is None and position.frame is None and not position.datum_unknown:
        what = f"Nothing says which datum “{position.text.strip()}” is in."
        raise FrameError(what, remedy="Choose the datum that the plotter or receiver was set to.")
    if row.r95 is None and not row.receiver and position.stated_r95_m is None:
        what = f"Nothing says how well “{position.text.strip()}” is known."
        raise QuantityError(what, remedy="Choose the kind of receiver, or state the 95 % radius.")
    return row


def _length(said: Mapping[str, Any], name: str) -> Quantity | None:
    text = said.get(name)
    return read_length(text) if text else None
