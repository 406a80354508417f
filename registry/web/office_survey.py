"""A list of modules observed again: looked at, recorded, and what it says of the recorded positions."""

import hashlib
from collections.abc import Collection
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response
from markupsafe import Markup

from registry.actions.assess_accuracy import assess_accuracy
from registry.actions.intake_log import Read
from registry.actions.record_resurvey import ASSUMPTION
from registry.actions.record_survey import SurveyIntake, record_survey, with_usual
from registry.documents.accuracy_plot import PlotPoint, draw_accuracy
from registry.documents.accuracy_words import accuracy_figures, accuracy_rows, order_sentence
from registry.documents.movement_words import movement_sentence, shift_sentences
from registry.errors import LeadlineError, NotFoundError, RequestError, TableError
from registry.formats.check_survey import read_check_survey, read_time
from registry.formats.csv_table import CsvTable, Row, read_csv_table, write_reject_table
from registry.formats.sample_table import nothing_is_filled_in
from registry.formats.written_quantity import read_length
from registry.measure.movement import Motion
from registry.ports import Register
from registry.records.log_row import LogRow
from registry.storage.files import decode_text
from registry.web.forms import Form, posted
from registry.web.frame_choice import choice_of
from registry.web.identity import Caller, needs
from registry.web.opened import reading, writing
from registry.web.pages import page
from registry.web.received import plain_name, received, sent_file

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
Office = Annotated[Caller, Depends(needs("office"))]
Posted = Annotated[Form, Depends(posted)]
#: What is stated for rows that do not say, and brought back by each form.
_STATED = ("when", "frame", "other_frame", "r95", "receiver", "crew", "vessel")
ROWS_SHOWN = 300


class _Survey:
    """A list that was sent, read as it was stated."""

    def __init__(self, request: Request, form: Form) -> None:
        if form.text("sent"):
            self.sha256, self.name = form.text("sent"), plain_name(form.text("name"))
            self.data = received(request).read(self.sha256)
        else:
            sent = sent_file(form, "file", "The list")
            self.name, self.data = sent.name, sent.data
            self.sha256 = hashlib.sha256(self.data).hexdigest()
        self.stated = {name: form.text(name) for name in _STATED}
        if nothing_is_filled_in(self.data):
            what = f"{self.name} is a sample in which nothing is filled in yet."
            raise TableError(what, remedy="Fill in position and when of each module that was found.")
        self.decoded = decode_text(self.data, name=self.name)
        self.table: CsvTable = read_csv_table(self.decoded.text)
        self.frame = choice_of(
            form.needed("frame", "The frame of rows that name none"), self.stated["other_frame"]
        )
        if self.stated["r95"] and self.stated["receiver"]:
            what = "A radius and a class of receiver are both stated."
            raise RequestError(what, remedy="State one of them.")
        radius = read_length(self.stated["r95"]) if self.stated["r95"] else None
        self.usual: dict[str, Any] = {"r95": radius, "receiver": self.stated["receiver"]}
        self.usual |= {name: self.stated[name] for name in ("crew", "vessel")}

    def lines(self, register: Register) -> list[tuple[Row, Read]]:
        """Read the rows."""
        zone = register.programme().zone
        when = read_time(self.stated["when"], zone) if self.stated["when"] else None
        source = {"file": self.name, "sha256": self.sha256, "encoding": self.decoded.encoding}
        rows = read_check_survey(self.table, zone=zone, source=source, when=when, frame=self.frame)
        return [(line, Read(number=line.number, cells=line.cells, row=row)) for line, row in rows]

    def taken(self, register: Register, actor: str, *, write: bool) -> SurveyIntake:
        """Record the rows, or only tell what would become of them."""
        reads = [read for _, read in self.lines(register)]
        return record_survey(register, reads, usual=self.usual, actor=actor, write=write)


@router.post("/office/resurveys/list")
def look_at_list(request: Request, caller: Office, form: Posted) -> Response:
    """Tell what moved and how good the recorded positions are, before anything is recorded."""
    survey = _Survey(request, form)
    received(request).keep(survey.data)
    with reading(request) as register:
        told = survey.taken(register, caller.name, write=False)
        accuracy = _accuracy(register, survey, but=told.repeated)
    return _told(request, survey, told, recorded=False, accuracy=accuracy)


@router.post("/office/resurveys/list/record")
def record_list(request: Request, caller: Office, form: Posted) -> Response:
    """Record the rows that can be used; what was recorded before is passed over."""
    survey = _Survey(request, form)
    with writing(request) as register:
        told = survey.taken(register, caller.name, write=True)
    return _told(request, survey, told, recorded=True, accuracy=None)


@router.post("/office/resurveys/list/rejected")
def rejected(request: Request, caller: Office, form: Posted) -> Response:
    """Give the rows that cannot be used, with their reasons, to be mended."""
    survey = _Survey(request, form)
    with reading(request) as register:
        told = survey.taken(register, caller.name, write=False)
        line_of = {line.number: line for line, _ in survey.lines(register)}
    rows = [(line_of[each.number], each.reason) for each in told.rejected]
    return Response(
        write_reject_table(survey.table, rows).encode(),
        media_type="text/csv; charset=utf-8",
        headers={"content-disposition": f'attachment; filename="rejected-{survey.sha256[:8]}.csv"'},
    )


def _told(
    request: Request,
    survey: _Survey,
    told: SurveyIntake,
    *,
    recorded: bool,
    accuracy: dict[str, Any] | None,
) -> Response:
    good = sorted(told.good, key=lambda one: _ORDER.index(one.resurvey.movement.verdict))
    return page(
        request,
        "office_survey.html",
        survey=survey,
        stated=[("sent", survey.sha256), ("name", survey.name), *survey.stated.items()],
        recorded=recorded,
        told=told,
        motion=told.found.motion.value,
        counts={m.name: sum(one.resurvey.movement.verdict == m for one in told.good) for m in Motion},
        rows=[(one.resurvey, movement_sentence(one.resurvey)) for one in good[:ROWS_SHOWN]],
        more=max(0, len(good) - ROWS_SHOWN),
        shift=shift_sentences(told.found.shift, told.found.explanation) if told.good else (),
        accuracy=accuracy,
        assumption=ASSUMPTION,
    )


_ORDER = (Motion.MOVED, Motion.INCONCLUSIVE, Motion.NOT_SHOWN)


def _accuracy(register: Register, survey: _Survey, *, but: Collection[int]) -> dict[str, Any] | None:
    """
    Compare the list with where the registry has its modules; None where no row can be compared.

    Rows that are recorded already would be compared with themselves.
    """
    rows = [
        with_usual(read.row, survey.usual)
        for _, read in survey.lines(register)
        if isinstance(read.row, LogRow) and read.number not in but
    ]
    try:
        found = assess_accuracy(register, rows)
    except NotFoundError:
        return None
    except LeadlineError as error:
        return {"fault": error}
    points = [
        PlotPoint(tag=p.tag, east_m=p.east_m, north_m=p.north_m, outlier=p.outlier) for p in found.points
    ]
    order = order_sentence(found.accuracy, found.order, found.order_depth_m)
    lines = (f"{accuracy_figures(found.accuracy)}.", order, f"Check positions from {survey.name}.")
    title = f"Check survey of {register.programme().name}"
    return {
        "fault": None,
        "rows": accuracy_rows(found.accuracy),
        "count": found.accuracy.count,
        "within": sum(point.within for point in found.points),
        "without": accuracy_figures(found.without_outliers) if found.without_outliers else "",
        "order": order,
        "notes": found.notes,
        "plot": Markup(draw_accuracy(points, found.accuracy, title=title, lines=lines)),
    }
