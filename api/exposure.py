"""What `doughsight serve` opens to whom, in lines of text, and the certificate that encrypts it."""

import ssl
from pathlib import Path

from api.door import Door
from api.errors import InputError

WITH_A_CODE = (
    "With a helper's code: the queue, and every bench, photo and record of that workshop.",
    "With a bench's code: the photos that this bench sent itself, and one button that asks for help.",
    "Without a code: the page on which a code is told, and nothing else.",
)


FOR_PHONES = "For phones: this square opens the page on which a code is told. It lets nobody in without one."
"""Stands over the QR code of that page; the owner's link is never drawn as one."""


def exposure(door: Door) -> list[str]:
    """Where the app is, what is open to whom, and as the last line how to stop it."""
    here = f"{'https' if door.https else 'http'}://127.0.0.1:{door.port}/"
    if not door.network:
        return [
            f"Doughsight is at {here}",
            "Only this machine can open it. Start it with --network to let phones in.",
            "Stop with Ctrl+C.",
        ]
    lines = [
        f"Doughsight is at {door.address()}/ for phones, and at {here} on this machine.",
        f"Open to the network now: port {door.port} on all addresses of this machine.",
        *(f"  {line}" for line in WITH_A_CODE),
        "Codes are made on this machine, in a workshop; each can be taken back there.",
    ]
    if not door.https:
        lines.append(
            "The connection is not encrypted: others on this network could read along. Use a network of your "
            "own, or give --certificate and --key."
        )
    lines.append(
        "This machine is the owner: its own browser sees everything and needs no code. So does whoever comes "
        "through a forwarder on it, such as an SSH tunnel: run none."
    )
    lines.append(
        "Where its browser comes from outside, as with a container, the first that opens this link is the "
        f"owner: {here}{door.owner_path()}"
    )
    return [*lines, "Stop with Ctrl+C: no phone can reach it then."]


def check_certificate(certificate: Path | None, key: Path | None) -> bool:
    """Whether to encrypt; raises InputError if the two files cannot be used for it."""
    if certificate is None and key is None:
        return False
    if certificate is None or key is None:
        raise InputError("A certificate needs its key: give both --certificate and --key, or neither.")
    try:
        # An encrypted key would have uvicorn ask for a password in the midst of the start.
        ssl.create_default_context(ssl.Purpose.CLIENT_AUTH).load_cert_chain(certificate, key, password="")
    except (OSError, ValueError) as error:
        raise InputError(
            "{certificate} and {key} cannot be used ({why}): give a certificate and its key as PEM "
            "files, the key without a password.",
            certificate=certificate,
            key=key,
            why=_why(error),
        ) from error
    return True


def _why(error: Exception) -> str:
    if isinstance(error, ssl.SSLError):
        return (error.reason or "no certificate").lower().replace("_", " ")
    return (error.strerror if isinstance(error, OSError) else None) or "not readable"
