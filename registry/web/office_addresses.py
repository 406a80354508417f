"""Addresses of the office's pages about one thing: a tag may hold letters that no path carries."""

from urllib.parse import urlencode

__all__ = ["certificate_address", "custody_address", "family_address", "module_address"]


def module_address(tag: str) -> str:
    """Give the address of the page of a module."""
    return _with("/office/module", tag=tag)


def custody_address(tag: str) -> str:
    """Give the address of the keepers' chain of a module."""
    return _with("/office/custody/of", tag=tag)


def family_address(tag: str) -> str:
    """Give the address of what is held of the family of a module."""
    return _with("/office/families/of", tag=tag)


def certificate_address(number: str) -> str:
    """Give the address of the page of a certificate."""
    return _with("/office/certificates/of", number=number)


def _with(path: str, **asked: str) -> str:
    return f"{path}?{urlencode(asked)}"
