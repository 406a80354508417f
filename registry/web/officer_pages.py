"""Pages of the permit officer: read-only, and without a word of any family."""

from fastapi import APIRouter

from registry.web import (
    officer_dashboard,
    officer_downloads,
    officer_duties,
    officer_module,
    officer_permit,
    officer_sample,
)

__all__ = ["PARTS", "router"]

router = APIRouter(include_in_schema=False)
#: Named addresses go before numbers of permits.
PARTS = (
    officer_dashboard,
    officer_downloads,
    officer_duties,
    officer_sample,
    officer_permit,
    officer_module,
)
for part in PARTS:
    router.include_router(part.router)
