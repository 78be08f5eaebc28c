"""Where the app answers, and the owner's own way in."""

import contextlib
import hmac
import secrets
import socket
from collections.abc import Iterable
from ipaddress import IPv4Address, IPv6Address, ip_address
from urllib.parse import urlsplit

LOOPBACK_NAMES = ("127.0.0.1", "localhost", "::1")
"""Names by which a laptop calls itself."""
DEFAULT_PORT = 8737


class Door:
    """What `serve` was told: whether phones can reach the app, and by which names.

    The owner's link lets one browser in as the owner, once for each start of the server. It is needed where
    the laptop's own browser does not come from the laptop, as with a container.
    """

    def __init__(
        self,
        network: bool = False,
        port: int = DEFAULT_PORT,
        https: bool = False,
        hosts: Iterable[str] = (),
    ) -> None:
        self.network, self.port, self.https = network, port, https
        self._told = tuple(name.strip().lower() for name in hosts if name.strip())
        self._token: str | None = secrets.token_urlsafe(24)
        self._mark = secrets.token_urlsafe(24)

    def answers_to(self, host: str | None, arrived_at: str | None) -> bool:
        """Whether a request for `host` is meant for us, which came in at the address `arrived_at`.

        A name of someone else that leads here (DNS rebinding) would let a page from elsewhere read what is
        kept: browsers then hold us for a part of that page.
        """
        name = name_of(host)
        if name is None:
            return False
        if name in LOOPBACK_NAMES or name in self._told:
            return True
        here = _address(arrived_at)
        return here is not None and _address(name) == here

    def address(self, host: str | None = None) -> str:
        """Where phones find the app, such as http://192.0.2.7:8737; `host` is how the asker calls it."""
        scheme = "https" if self.https else "http"
        if host is not None and name_of(host) not in (None, *LOOPBACK_NAMES):
            return f"{scheme}://{host}"
        name = self._told[0] if self._told else own_address() if self.network else "127.0.0.1"
        return f"{scheme}://{f'[{name}]' if ':' in name else name}:{self.port}"

    def owner_path(self) -> str:
        """The link that makes one browser the owner, behind the app's address; empty once it was used."""
        return "" if self._token is None else f"rooms/join#{self._token}"

    def let_owner_in(self, token: str) -> str | None:
        """The owner's mark for its cookie if the token is that of the link, which then is used up."""
        if self._token is None or not _same(token, self._token):
            return None
        self._token = None
        return self._mark

    def is_owner(self, mark: str) -> bool:
        """Whether this is the mark of the owner since this start."""
        return self._token is None and _same(mark, self._mark)


def name_of(host: str | None) -> str | None:
    """The name in a Host header without its port, in small letters; None if it is none."""
    if not host or any(sign in host for sign in "/\\@?# \t"):
        return None
    with contextlib.suppress(ValueError):
        parts = urlsplit(f"//{host}")
        if parts.port != 0:
            return parts.hostname
    return None


def is_loopback(peer: str | None) -> bool:
    """Whether an address is this very machine."""
    address = _address(peer)
    return address is not None and address.is_loopback


def own_address() -> str:
    """The address of this machine on its network; nothing is sent to find it."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe, contextlib.suppress(OSError):
        # 192.0.2.1 is reserved for documentation (RFC 5737); a datagram socket only picks a route.
        probe.connect(("192.0.2.1", 9))
        return str(probe.getsockname()[0])
    return "127.0.0.1"


def _address(text: str | None) -> IPv4Address | IPv6Address | None:
    """An IP address, out of its IPv6 wrapping; None for whatever is none."""
    with contextlib.suppress(ValueError):
        found = ip_address(text or "")
        mapped = found.ipv4_mapped if isinstance(found, IPv6Address) else None
        return mapped or found
    return None


def _same(one: str, other: str) -> bool:
    """Compared in constant time."""
    return hmac.compare_digest(one.encode(), other.encode())
