"""A sheet for a visit: from where, on which day; nothing of it is kept."""

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from registry.errors import LeadlineError
from registry.web.family_link import OwnFamily, own_family
from registry.web.family_page import family_page, refused
from registry.web.forms import Form, sent
from registry.web.opened import reading

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
Own = Annotated[OwnFamily, Depends(own_family)]
#: What telephones and plotters show.
_FRAME = "EPSG:4326"


@router.get("/family/{secret}/visit")
def visit_page(request: Request, family: Own) -> Response:
    """Ask from where and when."""
    return _page(request, family)


@router.post("/family/{secret}/visit")
def visit(request: Request, family: Own, form: Annotated[Form, Depends(sent)]) -> Response:
    """Make the sheet, or the file for a plotter."""
    from registry.actions.plan_visit import plan_visit
    from registry.desk.visit_sheet import visit_sheet, visit_stem
    from registry.formats.visit_gpx import write_visit_gpx
    from registry.formats.written_instant import read_day
    from registry.formats.written_position import read_position

    try:
        name = form.needed("name", "From where")
        start = read_position(form.needed("position", "Its position"))
        day = read_day(form.needed("day", "The day"))
        with reading(request) as register, register.reading():
            planned = plan_visit(
                register,
                family.tag,
                day=day,
                start_name=name,
                start=start,
                start_frame=_FRAME,
                for_family=True,
            )
        for_plotter = form.text("as") == "gpx"
        content = write_visit_gpx(planned) if for_plotter else visit_sheet(planned)
    except LeadlineError as error:
        return _page(request, family, typed=form, **refused(error))
    kind, media_type = ("gpx", "application/gpx+xml") if for_plotter else ("pdf", "application/pdf")
    stem = visit_stem(planned).encode("ascii", "replace").decode().replace("?", "_")
    said = {"content-disposition": f'attachment; filename="{stem}.{kind}"'}
    return Response(content, media_type=media_type, headers=said)


def _page(request: Request, family: OwnFamily, **values: Any) -> Response:
    status = values.pop("status", 200)
    shown = {"typed": None, "fault": None, "readings": ()} | values
    return family_page(request, family, "family_visit.html", status, **shown)
