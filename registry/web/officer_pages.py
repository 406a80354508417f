"""Pages of the officer."""

from fastapi import APIRouter

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
