"""Record what the programme tells visitors of its reefs, and find the word that holds for a permit."""

from registry.errors import InvalidRecordError
from registry.ports import Register
from registry.records.entry import Draft
from registry.records.visitor_words import VisitorWords, visitor_words_body, visitor_words_from_body

__all__ = ["tell_visitors", "told_visitors", "words_for"]


def tell_visitors(
    register: Register, *, permit: str | None, young_reef: str | None, rules: str | None, actor: str
) -> VisitorWords:
    """
    Record a word to visitors; what is not named here stays as it was told before.

    Parameters
    ----------
    register : Register
        Where it stands.
    permit : str or None
        For the reefs of this permit; None: for those of every permit without a word of its own.
    young_reef : str or None
        When a young reef is worth a visit. An empty text takes an earlier one back.
    rules : str or None
        The rules of the place. An empty text takes earlier ones back.
    actor : str
        Who tells it.

    Raises
    ------
    NotFoundError
        If there is no such permit.
    InvalidRecordError
        If nothing is said, or a text does not read as it was typed.
    """
    if young_reef is None and rules is None:
        raise InvalidRecordError("Nothing is told.", remedy="Give --young-reef, --rules or both.")
    with register.writing():
        if permit is not None:
            register.permit(permit)
        before = told_visitors(register).get(permit or "")
        words = VisitorWords(
            permit=permit or "",
            young_reef=(before.young_reef if before else "") if young_reef is None else young_reef.strip(),
            rules=(before.rules if before else "") if rules is None else rules.strip(),
        )
        body = visitor_words_body(words)
        register.append([Draft(kind="programme.declared", actor=actor, body=body)])
    return words


def told_visitors(register: Register) -> dict[str, VisitorWords]:
    """Give the word that stands for each permit; under the empty name, that for all others."""
    bodies = (body for body in register.declarations() if body["about"] == "visitors")
    return {words.permit: words for words in map(visitor_words_from_body, bodies)}


def words_for(register: Register, permit: str) -> VisitorWords | None:
    """Give the word that holds for the reefs of a permit, None where nothing was told."""
    told = told_visitors(register)
    return told.get(permit, told.get(""))
