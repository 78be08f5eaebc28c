"""Second photos in the public formats: what the underside told, and what changed since the first photo."""

from typing import Literal

from pydantic import BaseModel

from api.fields import Spot

ChangeKind = Literal["cut", "joined", "added", "taken", "wall-thicker", "light", "doubtful", "nothing"]


class BelowJoin(BaseModel):
    """Two pieces that dough from below joins, and where that is on the photo from above."""

    between: tuple[int, int]
    at: Spot


class UndersideOut(BaseModel):
    """How the photo of the underside lies on the one from above, and what it told.

    rim_mm   mean distance of the two outlines; overlap: their intersection over union
    joins    dough from below that joins lumps; told: contacts (their index) that were doubtful from above
    unsure   doughs whose colour may have been taken for another one on the photo of the underside
    """

    rim_mm: float
    overlap: float
    turn_deg: float
    joins: list[BelowJoin]
    told: list[int]
    unsure: list[str]
    says: list[str]


class ChangeOut(BaseModel):
    """One thing that changed since the first photo; `at` is on the new photo, parts as its report names them.

    `doubtful` is an entry that was carried over to where it may not belong. `size` is mm2 of dough added
    or taken, or mm of wall.
    """

    kind: ChangeKind
    at: Spot | None
    parts: list[str] = []
    size: float | None = None
    says: str
