"""What stands in a page at one place."""

import re

__all__ = ["found"]


def found(pattern: str, text: str) -> str:
    """Give the first group of what fits a pattern; what is not there is a failure."""
    match = re.search(pattern, text)
    assert match is not None, f"nothing fits {pattern}"
    return match[1]
