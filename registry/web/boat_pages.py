"""Pages of the boat."""

from fastapi import APIRouter

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
