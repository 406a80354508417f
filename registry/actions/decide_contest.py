"""Decide between two entries that contradict each other: whose facts stand from now on."""

from registry.errors import ConflictError, InvalidRecordError, NotFoundError
from registry.ports import Exchange, Register
from registry.records.bundle import Contest
from registry.records.entry import Draft
from registry.records.printed_words import printed_words

__all__ = ["decide_contest"]

LONGEST_REASON = 500


def decide_contest(
    register: Register, exchange: Exchange, reference: str, *, reason: str, actor: str
) -> tuple[Contest, ...]:
    """
    Record whose facts stand; the other entry stays in the journal.

    Parameters
    ----------
    register, exchange : Register, Exchange
        The registry of this machine.
    reference : str
        The entry that holds, as "b0a7b0a7-17".
    reason : str
        Why, for the journal.
    actor : str
        Who decides.

    Returns
    -------
    tuple of Contest
        Those that are closed.

    Raises
    ------
    InvalidRecordError
        If no reason is given.
    NotFoundError
        If the entry is in no open contest.
    ConflictError
        If facts of this kind are decided by saying them again.
    """
    if not reason.strip():
        raise InvalidRecordError("No reason is given.", remedy='Say why, with --reason "...".')
    reason = printed_words("reason", reason.strip(), longest=LONGEST_REASON)
    with register.writing():
        every = exchange.contests()
        mine = [each for each in every if reference in (each.stands, each.against)]
        if not mine:
            what = f"Entry {reference} is in no open contest."
            raise NotFoundError(what, remedy="See what is open with: leadline bundle conflicts.")
        for subject, name in dict.fromkeys((each.subject, each.name) for each in mine):
            of = [each for each in every if (each.subject, each.name) == (subject, name)]
            if subject == "declaration" and any(each.stands != reference for each in of):
                raise ConflictError("What is declared later holds.", remedy="Declare the other again.")
            over = sorted({each.stands for each in of} | {each.against for each in of} - {reference})
            body = {
                "subject": subject,
                "name": name,
                "keeps": reference,
                "over": [each for each in over if each != reference],
                "reason": reason,
            }
            register.append([Draft(kind="conflict.settled", actor=actor, body=body)])
        left = set(exchange.contests())
        return tuple(each for each in every if each not in left)
