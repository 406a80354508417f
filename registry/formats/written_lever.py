"""A lever arm from the antenna to the hook, as it is written down."""

from registry.errors import RequestError
from registry.formats.written_quantity import read_length
from registry.records.survey import LeverArm

__all__ = ["read_lever_arm"]


def read_lever_arm(
    text: str,
    *,
    u95: str | None = None,
    heading_deg: float | None = None,
    heading_u95_deg: float | None = None,
    roll_deg: float | None = None,
    pitch_deg: float | None = None,
    attitude_u95_deg: float | None = None,
) -> LeverArm:
    """
    Read a lever arm.

    Parameters
    ----------
    text : str
        Three lengths, forward, to starboard and downward; metres where no unit stands with them.
    u95 : str, optional
        95 % uncertainty of each, with its unit.
    heading_deg, roll_deg, pitch_deg : float, optional
        As noted; without a heading it is taken from the log. Units: degrees.
    heading_u95_deg, attitude_u95_deg : float, optional
        95 % uncertainties. Units: degrees.

    Raises
    ------
    RequestError
        If it is not three lengths.

    Examples
    --------
    >>> read_lever_arm("-14.6,5.1,7.8").down_m
    7.8
    """
    parts = text.split(",")
    if len(parts) != 3:
        what = f"A lever arm takes three lengths, not “{text.strip()[:60]}”."
        raise RequestError(what, remedy='Give forward, starboard and down, as --lever "-14.6,5.1,7.8".')
    forward, starboard, down = (read_length(part, unit="m").value for part in parts)
    stated = {
        "arm_u95_m": read_length(u95).value if u95 is not None else None,
        "heading_u95_deg": heading_u95_deg,
        "attitude_u95_deg": attitude_u95_deg,
        "unnoted_attitude_u95_deg": attitude_u95_deg,
    }
    return LeverArm(
        forward_m=forward,
        starboard_m=starboard,
        down_m=down,
        heading_deg=heading_deg,
        roll_deg=roll_deg,
        pitch_deg=pitch_deg,
        **{name: value for name, value in stated.items() if value is not None},
    )
