"""The address that the shop floor's server listens at: one of this machine's own, which the maker picks."""

import ipaddress
import os
import re
import socket
import ssl
from dataclasses import dataclass
from pathlib import Path

from pipeline.errors import UserError

USUAL_PORT = 8502


@dataclass(frozen=True)
class ShopFloor:
    """Where the shop floor's server listens, and the maker's own certificate and key if there are any."""

    address: str
    port: int = USUAL_PORT
    certificate: Path | None = None
    key: Path | None = None

    @property
    def url(self) -> str:
        host = f"[{self.address}]" if ":" in self.address else self.address
        return f"https://{host}:{self.port}" if self.port != 443 else f"https://{host}"


def chosen(text: str, certificate: Path | None = None, key: Path | None = None) -> ShopFloor:
    """The address that was picked, as `192.168.1.20` or `192.168.1.20:8502`. Raises `UserError` for any other."""
    host, port = _parted(text.strip())
    try:
        address = ipaddress.ip_address(host)
    except ValueError:
        raise _no_such(text, "is no address of this machine") from None
    if why := _why_not(address):
        raise _no_such(text, why)
    if bool(certificate) != bool(key):
        raise UserError("A certificate and its key go together.", mend="Give both: --certificate FILE --key FILE")
    for path in (certificate, key):
        if path and not path.is_file():
            raise UserError("There is no such file.", str(path), "Name a file in PEM form.")
    if certificate and key:
        _can_be_shown(certificate, key)
    floor = ShopFloor(str(address), port, certificate, key)
    _can_listen(floor)
    return floor


def addresses() -> list[tuple[str, str]]:
    """This machine's addresses on networks of its own, each with the name of its connection."""
    import psutil

    found = []
    for name, each in sorted(psutil.net_if_addrs().items()):
        for told in each:
            if told.family not in (socket.AF_INET, socket.AF_INET6) or "%" in told.address:
                continue
            address = ipaddress.ip_address(told.address)
            if not _why_not(address) and not address.is_loopback:
                found.append((str(address), name))
    return found


def _parted(text: str) -> tuple[str, int]:
    with_port = re.fullmatch(r"(\[[0-9a-fA-F:.]+\]|[0-9.]+):([0-9]{1,5})", text)
    host, port = (with_port[1], int(with_port[2])) if with_port else (text, USUAL_PORT)
    if not 0 < port < 2**16:
        raise _no_such(text, "has no port that there is")
    return host.removeprefix("[").removesuffix("]"), port


def _why_not(address: ipaddress.IPv4Address | ipaddress.IPv6Address) -> str:
    if isinstance(address, ipaddress.IPv6Address) and address.ipv4_mapped:
        return "is an older address in another's clothes: write it as such"
    if address.is_unspecified:
        return "means every network that this machine is in, and one alone is to be served"
    if address.is_multicast or str(address) == "255.255.255.255":
        return "is no address of one machine"
    if address.is_link_local:
        return "is one that a phone's browser can't open"
    # what is neither is a private network of another kind, such as one's own tunnel
    return "can be reached from the whole internet" if address.is_global else ""


def _can_be_shown(certificate: Path, key: Path) -> None:
    try:
        # nobody is there to be asked for a password
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(certificate, key, password=lambda: "")
    except (OSError, ValueError) as error:
        why = getattr(error, "reason", None) or getattr(error, "strerror", None) or "not in PEM form"
        said = f"No connection can be kept by this certificate and key: {str(why).replace('_', ' ').lower()}."
        mend = "Give a certificate in PEM form, and the key that belongs to it, without a password."
        raise UserError(said, f"{certificate}, {key}", mend) from None


def _can_listen(floor: ShopFloor) -> None:
    family = socket.AF_INET6 if ":" in floor.address else socket.AF_INET
    with socket.socket(family) as probe:
        try:
            probe.bind((floor.address, 0))
        except OSError:
            raise _no_such(floor.address, "is no address of this machine") from None
        try:
            with socket.socket(family) as at_port:
                if os.name != "nt":  # there it would allow a port in use
                    at_port.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
                at_port.bind((floor.address, floor.port))
        except OSError as error:
            why = error.strerror or "in use"
            mend = f"End what listens there, or take another port: --shop-floor {floor.address}:{floor.port + 1}"
            raise UserError(f"Nothing can listen at this port: {why}.", f"{floor.address}:{floor.port}", mend) from None


def _no_such(text: str, why: str) -> UserError:
    there = [f"{address} ({name})" for address, name in addresses()]
    listed = "; ".join(there) if there else "none, for it is in no network just now"
    picked = there[0].partition(" ")[0] if there else "ADDRESS"
    said = f"{text[:60]!r} {why}." if text else "It needs an address of this machine."
    return UserError(
        said,
        f"addresses of this machine: {listed}",
        f"Pick the one of the network that your phone is in too, such as: --shop-floor {picked}",
    )
