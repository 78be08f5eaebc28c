"""The secret of one data folder: cookies are signed with it, and codes are reckoned from it."""

import contextlib
import os
import secrets
from pathlib import Path

NAME = "secret.key"
BYTES = 32
"""As long as the digest of SHA-256, which is enough for HMAC (RFC 2104, section 3)."""


def secret_key(folder: Path) -> bytes:
    """The key, made at first; only this account of the machine may read it."""
    file = folder / NAME
    with contextlib.suppress(FileNotFoundError):
        known = file.read_bytes()
        if len(known) == BYTES:
            file.chmod(0o600)
            return known
    key = secrets.token_bytes(BYTES)
    half = file.with_name(f"{NAME}.{secrets.token_hex(4)}.half")
    with os.fdopen(os.open(half, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as out:
        out.write(key)
        out.flush()
        os.fsync(out.fileno())
    half.replace(file)
    return key
