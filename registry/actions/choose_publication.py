"""Record how much of its sites the programme shows the public, and find what holds for one map or file."""

from registry.errors import InvalidRecordError, RequestError
from registry.ports import Register
from registry.records.entry import Draft
from registry.records.publication import Publication, publication_body, publication_from_body

__all__ = ["chosen_publication", "declare_publication", "declared_publication"]


def declare_publication(register: Register, choice: Publication, *, actor: str) -> Publication:
    """
    Record a choice; every map and file from then on keeps to it.

    Raises
    ------
    InvalidRecordError
        If it is what is declared already.
    """
    with register.writing():
        body = publication_body(choice)
        if body == publication_body(declared_publication(register)):
            raise InvalidRecordError("That is declared already.", remedy="See: leadline publication")
        register.append([Draft(kind="programme.declared", actor=actor, body=body)])
    return choice


def declared_publication(register: Register) -> Publication:
    """Give the choice that stands; where none was ever made, everything is shown as it is known."""
    bodies = [body for body in register.declarations() if body["about"] == "publication"]
    return publication_from_body(bodies[-1]) if bodies else Publication()


def chosen_publication(register: Register, asked: Publication | None = None) -> Publication:
    """
    Give what holds for one map or file.

    Parameters
    ----------
    register : Register
        Read from.
    asked : Publication, optional
        What is asked for this once: it may show less than what is declared, never more.

    Raises
    ------
    RequestError
        If it would show more.
    """
    declared = declared_publication(register)
    if asked is None or (not asked.sites_only and asked.rounded_m is None) or asked == declared:
        return declared
    if asked.sites_only:
        return asked
    if declared.sites_only or (declared.rounded_m or 0.0) > (asked.rounded_m or 0.0):
        what = f"Rounding to {asked.rounded} would show more than was declared. {declared.words}"
        remedy = "Leave the option out, or declare another choice: leadline publication declare"
        raise RequestError(what, remedy=remedy)
    return asked
