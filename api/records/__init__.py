"""What is kept: photos beside the database, everything else in it."""

from api.records.records import (
    KeptDraft,
    KeptInspection,
    KeptPhoto,
    Place,
    Records,
    job_text,
    underside_gone,
    without_underside,
)
from api.records.sculptures import KeptLook, KeptSculpture, Sculptures, SculptureTold
from api.records.workshops import KeptWorkshop, Workshops

__all__ = [
    "KeptDraft",
    "KeptInspection",
    "KeptLook",
    "KeptPhoto",
    "KeptSculpture",
    "KeptWorkshop",
    "Place",
    "Records",
    "SculptureTold",
    "Sculptures",
    "Workshops",
    "job_text",
    "underside_gone",
    "without_underside",
]
