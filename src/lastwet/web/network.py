"""This computer's address in the local network, and a socket that is bound to it alone."""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Iterator
from contextlib import contextmanager

from lastwet.errors import UsageError


def lan_address() -> str:
    """Return the address from which this computer speaks to its network; raises `UsageError` without one.

    Nothing is sent: connecting a datagram socket only asks the routing table.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # TEST-NET-1 of RFC 5737, where nobody is
            address = str(probe.getsockname()[0])
        except OSError:
            address = "0.0.0.0"
    if ipaddress.ip_address(address).is_loopback or ipaddress.ip_address(address).is_unspecified:
        raise UsageError("this computer has no address in a local network", "join the network first, or name the address by --address")
    return address


@contextmanager
def bound(address: str, port: int) -> Iterator[socket.socket]:
    """Bind to one address and port; raises `UsageError` where that cannot be had, and for an address that means all of them."""
    try:
        known = ipaddress.IPv4Address(address)
    except ValueError:
        raise UsageError(f"'{address}' is not an address of this computer", "write it as in 192.168.0.20") from None
    if known.is_unspecified:
        raise UsageError("0.0.0.0 would serve every network that this computer is in", "name one address of this computer")
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((address, port))
        listening.listen()  # from now on a device waits rather than being turned away
    except OSError as error:
        listening.close()
        raise UsageError(f"{address}:{port} cannot be listened on ({error.strerror})", "name another --port, or --address") from error
    try:
        yield listening
    finally:
        listening.close()
