"""Pages of the office."""

from fastapi import APIRouter

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
