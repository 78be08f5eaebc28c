"""Who asks: the laptop that serves, a helper's phone, a bench, or a stranger."""

from dataclasses import dataclass
from typing import Literal

Role = Literal["owner", "helper", "bench", "stranger"]


@dataclass(frozen=True)
class Who:
    """The device behind a request. The owner has no workshop of its own: it sees all of them."""

    role: Role
    workshop: str | None = None
    device: str | None = None
    sculpture: str | None = None
    """The sculpture that a bench works on now."""
    name: str = ""
    """How the device is called, such as 'helper 2'; never a person's name."""

    def may_enter(self, workshop: str | None) -> bool:
        """Whether this workshop is open to it."""
        return self.role == "owner" or (workshop is not None and workshop == self.workshop)

    def may_see(self, workshop: str | None, sculpture: str | None, device: str | None) -> bool:
        """Whether it may see a photo of that workshop and sculpture, sent by that device.

        A bench sees what it sent itself of the sculpture that it works on now.
        """
        if not self.may_enter(workshop):
            return False
        if self.role != "bench":
            return True
        return device is not None and device == self.device and sculpture == self.sculpture


OWNER = Who("owner")
STRANGER = Who("stranger")
"""Has not joined: sees nothing but the page where a code is told."""
