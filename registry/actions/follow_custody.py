"""Follow who kept a module and the remains in it, and name where the chain is broken."""

from registry.errors import NotFoundError
from registry.ports import Register
from registry.records.custody import hand_over_from_body
from registry.records.custody_chain import Chain, forge_chain

__all__ = ["NO_CHAINS", "broken_links", "follow_custody", "untold_custody"]

#: What is told where a programme keeps no chains.
NO_CHAINS = (
    "This registry records no hand-overs at all: it cannot show who kept the module and the remains in it."
)


def follow_custody(register: Register, tag: str) -> Chain:
    """
    Give the chain of one module as it stands.

    Parameters
    ----------
    register : Register
        Where its hand-overs, the module and its placement are recorded.
    tag : str
        Of the module, which need not be in the registry yet.
    """
    with register.reading():
        try:
            cast_on = register.module(tag).cast_on
        except NotFoundError:
            cast_on = None
        placements = [register.placement(each) for each in register.placement_ids(tag)]
        return forge_chain(
            tag,
            [hand_over_from_body(body) for body in register.hand_overs(tag)],
            zone=register.programme().zone,
            cast_on=cast_on,
            placed_at=[placement.placed_at for placement in placements],
        )


def broken_links(register: Register, tag: str) -> tuple[str, ...]:
    """
    Say what in the chain of a module speaks against a certificate, one sentence each.

    Where a programme never recorded a hand-over of any module, nothing is held against it: it keeps its
    chains elsewhere, or none. Where it keeps chains, a module without one has a gap.
    """
    if not register.keeps_custody():
        return ()
    return tuple(f"Custody: {fault.sentence}" for fault in follow_custody(register, tag).faults)


def untold_custody(register: Register) -> tuple[str, ...]:
    """Say so where a programme never recorded a hand-over: a certificate of it rests on no chain."""
    return () if register.keeps_custody() else (NO_CHAINS,)
