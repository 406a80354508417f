"""What every form of a sample says of it and of its modules, in the same words."""

import shlex

from registry.formats.printed_position import write_ddm
from registry.measure.digits import Notation, coordinate_decimals
from registry.records.entry import instant_text
from registry.records.inspection_sample import METHOD, InspectionSample, SampledModule
from registry.records.public_wording import length_decimals, rounded_u95

__all__ = ["again_command", "depth_words", "drawn_lines", "position_words", "radius_words"]


def position_words(module: SampledModule) -> str:
    """Write where a module is, as a plotter takes it, with the digits that its radius supports."""
    decimals = coordinate_decimals(Notation.MINUTES, max(module.r95_m, 0.01))
    return write_ddm(module.lat_deg, module.lon_deg, decimals=decimals, style="plain")


def radius_words(r95_m: float) -> str:
    """Write a 95 % radius."""
    return f"{rounded_u95(r95_m):.{length_decimals(r95_m)}f} m"


def depth_words(module: SampledModule, chart_datum: str) -> str:
    """Write the charted depth of a module with its uncertainty."""
    if module.depth_m is None:
        return "not measured"
    decimals = length_decimals(module.depth_u95_m)
    doubt = "" if module.depth_u95_m is None else f" ± {rounded_u95(module.depth_u95_m):.{decimals}f}"
    return f"{module.depth_m:.{decimals}f}{doubt} m below {chart_datum}"


def again_command(sample: InspectionSample) -> str:
    """Write the command that draws the same sample again."""
    words = ("--permit", sample.permit, "--size", str(sample.size), "--seed", sample.seed)
    return f"leadline sample {shlex.join(words)} --as-of {instant_text(sample.as_of)}"


def drawn_lines(sample: InspectionSample) -> tuple[str, ...]:
    """Say how a sample was drawn, one line each."""
    course = "" if sample.course_m is None else f"; course from first to last {_way(sample.course_m)}"
    return (
        f"Method: {METHOD}.",
        f"Seed: {sample.seed}. Journal head: {sample.journal_head}, as of {instant_text(sample.as_of)}.",
        f"Drawn again, anywhere, by: {again_command(sample)}",
        f"Spread: {sample.balance:.2f} (0 is even; simple chance gives about 0.28){course}.",
    )


def _way(length_m: float) -> str:
    return f"{length_m:.0f} m" if length_m < 1000.0 else f"{length_m / 1852.0:.1f} nmi"
