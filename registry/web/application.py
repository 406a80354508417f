"""The application: every page and the HTTP interface over one registry file."""

from fastapi import FastAPI
from starlette.staticfiles import StaticFiles

from registry import __version__
from registry.web import (
    boat_pages,
    family_pages,
    features,
    interface,
    office_pages,
    officer_pages,
    public_pages,
    sign_in_pages,
)
from registry.web.faults import tell_faults, unforeseen
from registry.web.headers import AnsweredHeads, GuardedApplication
from registry.web.pages import STATIC
from registry.web.published import Kept
from registry.web.settings import Settings

__all__ = ["make_application"]

_ABOUT = (
    "Reads and writes the registry of record of a memorial reef programme. Advice only: charts, notices and"
    " the permit itself decide. Every position states its frame and epoch, every measured value its doubt."
)


def make_application(settings: Settings) -> FastAPI:
    """Make the application over the registry that the settings name."""
    app = FastAPI(
        title="Leadline",
        version=__version__,
        description=_ABOUT,
        docs_url=None,
        redoc_url=None,
        redirect_slashes=False,
    )
    app.state.settings = settings
    app.state.kept = Kept()
    app.add_middleware(GuardedApplication, secure=settings.secure, tell=unforeseen)
    app.add_middleware(AnsweredHeads)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    for part in (
        sign_in_pages,
        boat_pages,
        officer_pages,
        office_pages,
        family_pages,
        interface,
        features,
        public_pages,
    ):
        app.include_router(part.router)
    tell_faults(app)
    return app
