"""How a language is named: a tag of BCP 47."""

import re

from registry.errors import InvalidRecordError

__all__ = ["checked_language_tag"]

_TAG = re.compile(r"[A-Za-z]{2,3}(-[A-Za-z0-9]{2,8})*", re.ASCII)


def checked_language_tag(tag: str | None) -> str | None:
    """
    Give a tag back if it has the form of one, and None for none.

    Raises
    ------
    InvalidRecordError
        If it has not.

    Sources
    -------
    RFC 5646 (BCP 47), section 2.1: a language of two or three letters, subtags parted by hyphens. Tags for
    private use and those kept from before it are not taken.

    Examples
    --------
    >>> checked_language_tag("zh-Hant"), checked_language_tag(None)
    ('zh-Hant', None)
    """
    if tag is not None and not _TAG.fullmatch(tag):
        what = f"{tag!r} is not a language tag."
        raise InvalidRecordError(what, remedy='Give a BCP 47 tag as "vi" or "zh-Hant", or leave it out.')
    return tag
