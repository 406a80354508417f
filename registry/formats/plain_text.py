"""
Signs, marks and blanks that mean the same, each as the one that is read.

Unicode's own compatibility form would turn º into the letter o and ² into a digit, so the list is our own.
"""

__all__ = ["plain_text"]


def _plain_characters() -> dict[int, str]:
    table = {0xFF01 + i: chr(0x21 + i) for i in range(94)}  # full-width forms
    table |= dict.fromkeys(map(ord, "º˚∘⁰"), "°")
    table |= dict.fromkeys(map(ord, "−–—‐‑‒―﹣－"), "-")
    table |= dict.fromkeys(map(ord, "′’‘´`ʹʼ‛＇"), "'")
    table |= dict.fromkeys(map(ord, "″”“„‟ʺ＂"), '"')
    table |= dict.fromkeys([0x00A0, 0x2007, 0x202F, 0x3000, *range(0x2000, 0x200B)], " ")
    table |= dict.fromkeys([0x200B, 0x200E, 0x200F, 0x2060, 0xFEFF, 0x00AD], "")  # invisible marks
    return table


_PLAIN = _plain_characters()


def plain_text(text: str) -> str:
    """
    Make signs, marks, full-width forms and blanks plain, and take the blanks at the ends away.

    Examples
    --------
    >>> plain_text("３３º４５′ N\u00a0−78")
    "33°45' N -78"
    """
    return text.strip() if text.isascii() else text.translate(_PLAIN).strip()
