"""Take in the modules of a spreadsheet: what can be recorded is; of every other row it is said why not."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

from registry.actions.add_module import StoodAlready, add_modules
from registry.errors import LeadlineError
from registry.ports import Register
from registry.records.module import Module

__all__ = ["ModulesTaken", "intake_modules"]

Row = TypeVar("Row")


@dataclass(frozen=True, slots=True, kw_only=True)
class ModulesTaken(Generic[Row]):
    """What became of the rows, each in the order of the spreadsheet."""

    #: The modules that were recorded.
    new: tuple[Module, ...]
    #: Rows that say exactly what the registry holds, and were left alone.
    repeated: tuple[Row, ...]
    #: Rows that were not taken in, and why.
    rejected: tuple[tuple[Row, LeadlineError], ...]


def intake_modules(
    register: Register, rows: Sequence[tuple[Row, Module | LeadlineError]], *, actor: str
) -> ModulesTaken[Row]:
    """
    Record the modules of some rows as one transaction.

    Parameters
    ----------
    register : Register
        Where they are recorded.
    rows : sequence of (Row, Module or LeadlineError)
        In order, each with the module that it says or what is wrong with it.
    actor : str
        Who takes them in.
    """
    readable = [module for _, module in rows if not isinstance(module, LeadlineError)]
    answers = iter(add_modules(register, readable, actor=actor))
    told = [(row, said if isinstance(said, LeadlineError) else next(answers)) for row, said in rows]
    return ModulesTaken(
        new=tuple(answer for _, answer in told if isinstance(answer, Module)),
        repeated=tuple(row for row, answer in told if isinstance(answer, StoodAlready)),
        rejected=tuple((row, answer) for row, answer in told if isinstance(answer, LeadlineError)),
    )
