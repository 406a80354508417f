"""A photograph that was sent: what it is by its first bytes, whatever its name says."""

from registry.errors import RequestError

__all__ = ["LARGEST_PHOTOGRAPH", "photograph_ending"]

#: Units: bytes.
LARGEST_PHOTOGRAPH = 16 * 1024 * 1024
#: JPEG: ISO/IEC 10918-1, marker SOI and the next marker. PNG: W3C PNG, 5.2, signature. Both from memory.
_FIRST = {b"\xff\xd8\xff": "jpg", b"\x89PNG\r\n\x1a\n": "png"}
#: And their last: marker EOI; the chunk IEND. Some cameras write more behind it.
_LAST = {"jpg": b"\xff\xd9", "png": b"IEND\xaeB`\x82"}


def photograph_ending(data: bytes) -> str:
    r"""
    Tell what a photograph is: "jpg" or "png".

    Raises
    ------
    RequestError
        If it is neither, is larger than `LARGEST_PHOTOGRAPH`, or was cut off on its way.

    Examples
    --------
    >>> photograph_ending(b"\xff\xd8\xff\xe0 ... \xff\xd9")
    'jpg'
    """
    if len(data) > LARGEST_PHOTOGRAPH:
        what = f"The photograph has {len(data) / 2**20:.0f} MiB; it may have {LARGEST_PHOTOGRAPH // 2**20}."
        raise RequestError(what, remedy="Take it with fewer pixels, or leave it out.")
    for first, ending in _FIRST.items():
        if data.startswith(first):
            if _LAST[ending] not in data:
                what = "The photograph ends before it should: it was cut off on its way."
                raise RequestError(what, remedy="Choose it again.")
            return ending
    what = "What was sent as a photograph is neither a JPEG nor a PNG."
    raise RequestError(what, remedy="Take it with the tablet's camera as JPEG, or leave it out.")
