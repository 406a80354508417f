"""Programs ask here."""

from fastapi import APIRouter

__all__ = ["router"]

router = APIRouter()
