"""Declare whether burial-at-sea reports apply, and on which papers the programme rests its placements."""

from collections.abc import Sequence

from registry.actions.told_duties import declarations_of
from registry.errors import InvalidRecordError
from registry.ports import Register
from registry.records.duty_entry import (
    BURIAL_REPORT_DAYS,
    Applies,
    AuthorityBasis,
    Declaration,
    declaration_body,
)
from registry.records.entry import Draft

__all__ = ["declare_burial_reports"]


def declare_burial_reports(
    register: Register,
    *,
    permit: str | None,
    applies: Applies | None,
    days: int | None,
    cite: str | None,
    bases: Sequence[AuthorityBasis],
    actor: str,
) -> Declaration:
    """
    Record what the programme declares; what is not named here stays as it was declared before.

    Parameters
    ----------
    register : Register
        Where it stands.
    permit : str or None
        For this permit; None: for every permit without a declaration of its own.
    applies : {"yes", "no", "unknown"} or None
        Whether the report applies to the memorials placed.
    days : int or None
        Within how many days of the placement; 30 where the report applies and nobody says otherwise.
    cite : str or None
        Where that is asked or ruled, in the programme's words.
    bases : sequence of AuthorityBasis
        The papers on which the placements rest; all of them, where any is named.
    actor : str
        Who declares it.

    Raises
    ------
    NotFoundError
        If there is no such permit.
    InvalidRecordError
        If nothing is declared, or a yes or no without its source.
    """
    if applies is None and days is None and cite is None and not bases:
        raise InvalidRecordError(
            "Nothing is declared.", remedy="Give --burial-report, --days, --cite or --basis."
        )
    with register.writing():
        if permit is not None:
            register.permit(permit)
        declared = declarations_of(register)
        before = declared.get(permit or "") or declared.get("") or Declaration()
        applies = applies or before.applies
        days = before.days if days is None else days
        if applies == "yes" and days is None:
            days = BURIAL_REPORT_DAYS
        declaration = Declaration(
            permit=permit or "",
            applies=applies,
            days=days,
            cite=before.cite if cite is None else cite.strip(),
            bases=tuple(bases) or before.bases,
        )
        body = declaration_body(declaration)
        register.append([Draft(kind="programme.declared", actor=actor, body=body)])
    return declaration
