"""Follow the keepers' chains of all modules at once, and tell those that are broken."""

from collections import defaultdict
from datetime import UTC, datetime
from typing import Any

from registry.ports import Register
from registry.records.custody import hand_over_from_body
from registry.records.custody_chain import Chain, forge_chain

__all__ = ["list_custody"]


def list_custody(register: Register) -> tuple[Chain, ...]:
    """
    Give the chain of every module that is recorded, or of which a hand-over is, in order of tag.

    The same chains as :func:`registry.actions.follow_custody.follow_custody` gives one by one.
    """
    with register.reading():
        zone = register.programme().zone
        cast_on = {module.tag: module.cast_on for module in register.modules()}
        hand_overs: defaultdict[str, list[Any]] = defaultdict(list)
        for body in register.hand_overs():
            hand_overs[body["tag"]].append(hand_over_from_body(body))
        placed_at: defaultdict[str, list[datetime]] = defaultdict(list)
        table = register.placements()
        for tag, second in zip(map(str, table.tag), table.placed_at_s.tolist(), strict=True):
            placed_at[tag].append(datetime.fromtimestamp(second, UTC))
    return tuple(
        forge_chain(
            tag,
            hand_overs[tag],
            zone=zone,
            cast_on=cast_on.get(tag),
            placed_at=placed_at[tag],
        )
        for tag in sorted({*cast_on, *hand_overs})
    )
