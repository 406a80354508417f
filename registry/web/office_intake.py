"""Intake of a spreadsheet: it is sent, and somebody says what its columns mean."""

from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response

from registry.actions.intake_log import earlier_intakes
from registry.actions.settle_row import read_as
from registry.errors import LeadlineError, TableError
from registry.formats.csv_table import DELIMITERS, CsvTable, read_csv_table
from registry.formats.log_columns import LENGTHS, MEANINGS, chosen_columns, guessed_columns, refuse_unstated
from registry.formats.written_instant import read_instant
from registry.measure.datum import resolve
from registry.records.entry import instant_text
from registry.records.staged_intake import ReadAs, StagedIntake, staged_body, staged_from_body
from registry.storage.files import decode_text
from registry.web import office_intake_preview, office_intake_row
from registry.web.faults import status_of
from registry.web.forms import Form, posted
from registry.web.frame_choice import OTHER, OWN, choice_of, frame_choices
from registry.web.identity import Caller, needs
from registry.web.opened import reading, settings_of
from registry.web.pages import page
from registry.web.received import received, sent_file
from registry.web.staged_log import changed, decoded_of, staged_of, table_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
Office = Annotated[Caller, Depends(needs("office"))]
Posted = Annotated[Form, Depends(posted)]
#: A page with more columns than this to choose from helps nobody.
MOST_COLUMNS = 200
SAMPLE_ROWS = 4
MOST_SHOWN = 30
_NEEDED = ("tag",)
#: What a person reads beside each choice.
_LABELS: Mapping[str, tuple[str, str]] = {
    "tag": ("Tag", "of the module"),
    "position": ("Position", "latitude and longitude in one cell, any notation"),
    "lat": ("Latitude", ""),
    "lon": ("Longitude", ""),
    "easting": ("Easting", "of a grid"),
    "northing": ("Northing", "of a grid"),
    "frame": ("Frame", "datum or grid, where rows differ"),
    "epoch": ("Epoch", "of the coordinates, as 2026.5"),
    "when": ("Date and time", "of touch-down, in one cell"),
    "date": ("Date", ""),
    "time": ("Time", ""),
    "depth": ("Depth", ""),
    "depth_u95": ("Depth, how sure", "95 %"),
    "depth_unit": ("Unit of the depth", "where rows differ"),
    "tide": ("Tide", "height to be taken off"),
    "r95": ("Position, how sure", "95 % radius"),
    "receiver": ("Receiver", "its class, instead of a radius"),
    "permit": ("Permit", "where rows differ"),
    "type": ("Module type", "of modules that are new"),
    "crew": ("Crew", ""),
    "vessel": ("Vessel", ""),
    "note": ("Note", ""),
}


@router.get("/office/intake")
def intake_page(request: Request, caller: Office) -> Response:
    """Show what was sent, and where to send a spreadsheet."""
    del caller
    return _first_page(request)


@router.post("/office/intake")
def send(request: Request, caller: Office, form: Posted) -> Response:
    """Keep a spreadsheet that was sent, if it can be read at all."""
    kept = received(request)
    try:
        sent = sent_file(form, "file", "The spreadsheet")
        delimiter = {"comma": ",", "semicolon": ";", "tab": "\t"}.get(form.text("delimiter"))
        table = read_csv_table(decode_text(sent.data, name=sent.name).text, delimiter=delimiter)
        if len(table.header) > MOST_COLUMNS:
            what = f"{sent.name} has {len(table.header)} columns; so many cannot be shown to choose from."
            raise TableError(what, remedy=f"Delete the empty ones: {MOST_COLUMNS} at most.")
    except LeadlineError as error:
        return _first_page(request, fault=error)
    digest = kept.keep(sent.data)
    fresh = StagedIntake(
        sha256=digest,
        file=sent.name,
        delimiter=delimiter,
        sent_by=caller.name,
        sent_at=instant_text(settings_of(request).clock.now()),
    )
    # Of a file that is here already what was said of it stays.
    note = kept.change(f"intake-{digest}", lambda known: known or staged_body(fresh))
    onward = "" if staged_from_body(note).read_as else "/columns"
    return RedirectResponse(f"/office/intake/{digest}{onward}", status_code=303)


@router.get("/office/intake/{digest}/columns")
def columns_page(request: Request, digest: str, caller: Office) -> Response:
    """Show what each column may mean, for somebody to say it."""
    del caller
    staged = staged_of(request, digest)
    table = table_of(request, staged)
    said = staged.read_as
    kept = received(request).note(f"columns-{_fingerprint(table)}")
    if said is not None:
        chosen, units = said.columns, said.units
    elif kept is not None:
        chosen, units = kept["columns"], kept["units"]
    else:
        guess = guessed_columns(table)
        chosen, units = guess.by_meaning, guess.units
    stated = {
        "frame": "" if said is None else (said.frame or OWN),
        "permit": "" if said is None else (said.permit or OWN),
        "zone": "" if said is None else (said.zone or OWN),
        "other_frame": "",
        "other_zone": "",
    }
    remembered = kept if said is None else None
    return _columns(request, staged, table, chosen, units=units, stated=stated, kept=remembered)


@router.post("/office/intake/{digest}/columns")
def say_columns(request: Request, digest: str, caller: Office, form: Posted) -> Response:
    """Keep what was said of the columns and of the whole file, for this file and for the next of its kind."""
    staged = staged_of(request, digest)
    table = table_of(request, staged)
    places = {meaning: form.text(f"column-{meaning}") for meaning in MEANINGS}
    columns = {
        meaning: table.header[int(place)]
        for meaning, place in places.items()
        if place.isdecimal() and len(place) < 6 and int(place) < len(table.header)
    }
    units = {meaning: form.text(f"unit-{meaning}") for meaning in LENGTHS if form.text(f"unit-{meaning}")}
    stated = {name: form.text(name) for name in ("frame", "permit", "zone")}
    stated["other_frame"], stated["other_zone"] = form.text("other_frame"), form.text("other_zone")
    try:
        asked = _stated(table, columns, units, stated)
        changed(request, digest, lambda known: read_as(known, asked, seen=form.text("seen")))
    except LeadlineError as error:
        return _columns(request, staged, table, columns, units=units, stated=stated, fault=error)
    note = {
        "columns": columns,
        "units": {name: unit for name, unit in units.items() if unit != OWN},
        "by": caller.name,
        "at": instant_text(settings_of(request).clock.now()),
        "file": staged.file,
    }
    received(request).change(f"columns-{_fingerprint(table)}", lambda _: note)
    return RedirectResponse(f"/office/intake/{digest}", status_code=303)


def _stated(
    table: CsvTable, columns: Mapping[str, str], units: Mapping[str, str], stated: Mapping[str, str]
) -> ReadAs:
    """Parse what was stated for the whole file; what must not be assumed must be chosen."""
    for name, label in (("frame", "frame"), ("permit", "permit"), ("zone", "zone of the times")):
        if not stated[name]:
            what = f"The {label} is not stated."
            raise TableError(
                what, remedy="Choose it for the whole file, or say that each row states its own."
            )
    unsaid = [meaning for meaning in LENGTHS if meaning in columns and not units.get(meaning)]
    if unsaid:
        label = _LABELS[unsaid[0]][0]
        what = f"The unit of “{label}” is not stated."
        raise TableError(what, remedy="Choose it, or say that each cell states its own.")
    frame = choice_of(stated["frame"], stated["other_frame"])
    if frame is not None:
        resolve(frame)
    zone = choice_of(stated["zone"], stated["other_zone"])
    if zone is not None:
        read_instant("2026-01-01T12:00", zone)
    permit = choice_of(stated["permit"], "")
    own = {meaning: unit for meaning, unit in units.items() if unit != OWN}
    refuse_unstated(chosen_columns(table, columns, own), frame=frame, permit=permit)
    return ReadAs(columns=dict(columns), units=own, frame=frame, permit=permit, zone=zone)


def _columns(
    request: Request,
    staged: StagedIntake,
    table: CsvTable,
    chosen: Mapping[str, str],
    *,
    units: Mapping[str, str],
    stated: Mapping[str, str],
    kept: Any = None,
    fault: LeadlineError | None = None,
) -> Response:
    with reading(request) as register:
        permits = [(permit.number, permit.authority) for permit in register.permits()]
        zone = register.programme().zone
        frames = frame_choices(register.programme().frame)
    stated = dict(stated)
    for name, offered in (("frame", [code for code, _ in frames]), ("zone", [zone, "UTC"])):
        if stated[name] not in {"", OWN, OTHER, *offered}:
            stated[f"other_{name}"], stated[name] = stated[name], OTHER
    sample = []
    for row in table.rows():
        sample.append(row)
        if len(sample) == SAMPLE_ROWS:
            break
    return page(
        request,
        "office_intake_columns.html",
        status_of(fault) if fault else 200,
        staged=staged,
        header=list(enumerate(table.written_header)),
        sample=sample,
        meanings=[(name, *_LABELS[name], name in _NEEDED) for name in MEANINGS],
        places={meaning: table.header.index(name) for meaning, name in chosen.items()},
        lengths=LENGTHS,
        units={meaning: _SHORT.get(unit, unit) for meaning, unit in units.items()},
        was_said=staged.read_as is not None,
        stated=stated,
        permits=permits,
        zone=zone,
        frames=frames,
        note=decoded_of(request, staged).note,
        delimiter=DELIMITERS[table.delimiter],
        kept=kept,
        fault=fault,
    )


#: The units of the choice; others are ways to write them.
_SHORT = {
    "feet": "ft",
    "metres": "m",
    "meters": "m",
    "fathom": "fathoms",
    "fm": "fathoms",
}


def _first_page(request: Request, fault: LeadlineError | None = None) -> Response:
    staged = [staged_from_body(note) for note in received(request).notes("intake")[:MOST_SHOWN]]
    with reading(request) as register:
        taken = {each.sha256: earlier_intakes(register, each.sha256) for each in staged}
    return page(
        request,
        "office_intake.html",
        status_of(fault) if fault else 200,
        staged=staged,
        taken={
            digest: [(entry.actor, entry.time, entry.content()) for entry in entries]
            for digest, entries in taken.items()
        },
        fault=fault,
    )


def _fingerprint(table: CsvTable) -> str:
    """Name a header, so that a file of the same columns is known again."""
    import hashlib

    return hashlib.sha256("\n".join(table.header).encode()).hexdigest()


for part in (office_intake_row, office_intake_preview):
    router.include_router(part.router)
