"""List the modules that may be aboard for a day's run: what is loaded, or planned and not yet placed."""

from dataclasses import dataclass

from registry.ports import Register
from registry.records.custody import Step, hand_over_from_body
from registry.records.target import Target

__all__ = ["Aboard", "list_aboard"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Aboard:
    """A module that is not on the seabed yet."""

    tag: str
    type_id: str
    #: Where the plan wants it under the permit; None where it says nothing.
    target: Target | None
    #: Whether the keepers' chain ends with "loaded".
    loaded: bool
    #: Whether it is taken to be aboard until the crew says otherwise.
    expected: bool


def list_aboard(register: Register, permit: str) -> tuple[Aboard, ...]:
    """
    List every module without a placement, those first that are expected aboard.

    Where the registry keeps hand-overs, those are expected whose chain ends with "loaded"; where it keeps
    none, those that have a target under the permit.

    Parameters
    ----------
    register : Register
        The registry.
    permit : str
        The permit of the day.

    Raises
    ------
    NotFoundError
        If there is no such permit.
    """
    with register.reading():
        number = register.permit(permit).number
        modules = register.modules()
        placed = set(register.placements_tagged([module.tag for module in modules]).tag.tolist())
        targets = {target.tag: target for target in register.targets() if target.permit == number}
        keeps = register.keeps_custody()
        loaded = _loaded(register) if keeps else set()
    listed = [
        Aboard(
            tag=module.tag,
            type_id=module.type_id,
            target=targets.get(module.tag),
            loaded=module.tag in loaded,
            expected=module.tag in (loaded if keeps else targets),
        )
        for module in modules
        if module.tag not in placed
    ]
    return tuple(sorted(listed, key=lambda each: (not each.expected, each.tag)))


def _loaded(register: Register) -> set[str]:
    """Give the tags whose last hand-over was for loading."""
    last: dict[str, tuple[object, Step]] = {}
    for body in register.hand_overs():
        each = hand_over_from_body(body)
        if body["tag"] not in last or each.at >= last[body["tag"]][0]:  # type: ignore[operator]
            last[body["tag"]] = (each.at, each.step)
    return {tag for tag, (_, step) in last.items() if step is Step.LOADED}
