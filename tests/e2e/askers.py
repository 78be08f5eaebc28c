"""Who asks the app in tests: the laptop that serves, and phones on its network."""

from typing import Any

from fastapi import FastAPI
from fastapi.testclient import TestClient

LAPTOP = ("127.0.0.1", 50000)
PHONE = ("192.0.2.40", 50000)  # addresses for documentation, RFC 5737
ADDRESS = "http://192.0.2.7"


def at_laptop(app: FastAPI, **told: Any) -> TestClient:
    """The laptop itself, which is the owner."""
    return TestClient(app, base_url="http://127.0.0.1", client=LAPTOP, **told)


def on_phone(app: FastAPI, peer: str = PHONE[0], **told: Any) -> TestClient:
    """A phone that has not joined yet."""
    return TestClient(app, base_url=ADDRESS, client=(peer, 50000), **told)
