"""How good recorded positions are, in words: the figures of a check survey with the digits they support."""

from registry.measure.accuracy import LEAST_POINTS, Accuracy

__all__ = ["accuracy_figures", "accuracy_rows", "order_sentence"]


def accuracy_rows(accuracy: Accuracy) -> tuple[tuple[str, str, str], ...]:
    """Give the figures: what each is, its value, and what should be known of it."""
    d = accuracy.decimals
    return (
        ("Mean", f"{accuracy.mean_east_m:+.{d}f} m east, {accuracy.mean_north_m:+.{d}f} m north", ""),
        ("RMSE", f"{accuracy.rmse_east_m:.{d}f} m east, {accuracy.rmse_north_m:.{d}f} m north", ""),
        ("RMSE radial", f"{accuracy.rmse_radial_m:.{d}f} m", ""),
        ("NSSDA, 95 %", f"{accuracy.nssda_r95_m:.{d}f} m", "(2.4477 times the mean of both axes)"),
        ("Ellipse, 95 %", f"{accuracy.ellipse_r95_m:.{d}f} m", "(exact for these second moments)"),
    )


def accuracy_figures(accuracy: Accuracy) -> str:
    """Give the figures on one line, with the digits that so many points support."""
    d = accuracy.decimals
    return (
        f"RMSE east {accuracy.rmse_east_m:.{d}f} m, north {accuracy.rmse_north_m:.{d}f} m, "
        f"radial {accuracy.rmse_radial_m:.{d}f} m; NSSDA 95 % {accuracy.nssda_r95_m:.{d}f} m; "
        f"ellipse 95 % {accuracy.ellipse_r95_m:.{d}f} m"
    )


def order_sentence(accuracy: Accuracy, order: str, depth_m: float) -> str:
    """Say which order of IHO S-44 the position meets at a depth; 0 m where none is known."""
    depth = f"{depth_m:.0f} m" if depth_m else "0 m (no depth is known)"
    if not accuracy.enough:
        return f"So few points support no order of IHO S-44: {LEAST_POINTS} are asked for."
    if not order:
        return f"The position meets no order of IHO S-44 at a depth of {depth}."
    return f"The position meets IHO S-44 order {order} at {depth}; depth and coverage are not asked."
