"""Pages of the public."""

from fastapi import APIRouter

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
