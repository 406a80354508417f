"""Where a caller stands: on the network at hand or elsewhere, and beside whom."""

from ipaddress import IPv4Address, IPv6Address, ip_address, ip_network

__all__ = ["is_local", "neighbourhood"]

#: RFC 1918, RFC 3927, RFC 1122 (loopback); RFC 4193, RFC 4291 (link-local and loopback).
_LOCAL = tuple(
    ip_network(text)
    for text in (
        *("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "127.0.0.0/8"),
        *("fc00::/7", "fe80::/10", "::1/128"),
    )
)


def is_local(address: str) -> bool:
    """
    Tell whether an address belongs to this machine or to a network that does not reach further.

    What is no address at all is not local.

    Examples
    --------
    >>> is_local("192.168.8.20"), is_local("fe80::1%wlan0"), is_local("::ffff:10.0.0.9"), is_local("8.8.8.8")
    (True, True, True, False)
    """
    read = _read(address)
    return read is not None and any(read in network for network in _LOCAL if network.version == read.version)


def neighbourhood(address: str) -> str:
    """
    Give what attempts are counted by: an IPv4 address, or the /64 of an IPv6 address.

    One subscriber has the whole /64 (RFC 6177, RFC 4291 section 2.5.4) and may call from any address in it.

    Examples
    --------
    >>> neighbourhood("2001:db8::1") == neighbourhood("2001:db8::ffff")
    True
    >>> neighbourhood("::ffff:192.0.2.7")
    '192.0.2.7'
    """
    read = _read(address)
    if read is None:
        return address
    return str(read) if read.version == 4 else str(ip_network((int(read), 64), strict=False))


def _read(address: str) -> IPv4Address | IPv6Address | None:
    try:
        read = ip_address(address)
    except ValueError:
        return None
    return (read.ipv4_mapped or IPv6Address(int(read))) if isinstance(read, IPv6Address) else read
