"""Whether modules moved, in sentences, with no digit that the doubt does not support."""

from collections.abc import Sequence

from registry.measure.digits import metres_decimals, u95_rounded_up_m
from registry.measure.movement import CommonShift, Motion, least_seen_m
from registry.records.resurvey import Resurvey
from registry.rules.wording import bearing_text, length_text

__all__ = ["movement_sentence", "shift_sentences"]


def movement_sentence(resurvey: Resurvey) -> str:
    """Say what became of one module, to follow its tag."""
    movement = resurvey.movement
    size = length_text(movement.distance_m, movement.u95_m)
    since, seen = f"{movement.since:%Y-%m-%d}", f"{resurvey.observed_at:%Y-%m-%d}"
    toward = bearing_text(movement.bearing_deg)
    if movement.verdict == Motion.MOVED:
        return f"moved {size} toward {toward}, some time between {since} and {seen}."
    if movement.verdict == Motion.INCONCLUSIVE:
        return (
            f"inconclusive: {size} toward {toward} since {since} would count for "
            "one module alone, but among so many it may be chance; survey it again."
        )
    least_m = least_seen_m(movement.u95_m)
    least = f"{u95_rounded_up_m(least_m):.{metres_decimals(least_m)}f}"
    return f"not shown to have moved since {since}: {size}. A move of {least} m would have shown (95 %)."


def shift_sentences(shift: CommonShift | None, explanation: Sequence[str]) -> tuple[str, ...]:
    """Say what all modules show alike."""
    if shift is None:
        return ("With fewer than five modules a common shift (a frame or receiver error) cannot be told.",)
    if not shift.real:
        return (f"No common shift among {shift.count} modules.",)
    size = length_text(shift.distance_m, shift.r95_m)
    toward = bearing_text(shift.bearing_deg)
    return (
        f"Common shift: {shift.count} modules together show {size} toward {toward}.",
        "Modules do not move all alike: this is a frame or receiver error, of now or of then.",
        *explanation,
        "It was taken off before each module was tested. A mark that cannot move would decide.",
    )
