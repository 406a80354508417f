"""The frames that a form offers, and what was chosen."""

from registry.errors import RequestError
from registry.measure.frames import FRAMES

__all__ = ["OTHER", "OWN", "choice_of", "frame_choices"]

#: Chosen where each row, time or file states its own.
OWN = "own"
#: Chosen where it is typed beside the choice.
OTHER = "other"


def frame_choices(home: str) -> list[tuple[str, str]]:
    """Give code and name of each frame: what receivers show and the programme's own first."""
    first = ("EPSG:4326", home)
    ordered = sorted(FRAMES, key=lambda frame: (frame.code not in first, frame.code == home))
    return [(frame.code, f"{frame.name} ({frame.code})") for frame in ordered]


def choice_of(chosen: str, typed: str) -> str | None:
    """Give what was chosen or typed beside it; None where each states its own."""
    if chosen == OWN:
        return None
    if chosen != OTHER:
        return chosen
    if not typed.strip():
        raise RequestError("“Another” was chosen, and nothing typed.", remedy="Type its code or name.")
    return typed.strip()
