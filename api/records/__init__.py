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
from api.records.workshops import KeptWorkshop, Workshops

__all__ = [
    "KeptDraft",
    "KeptInspection",
    "KeptPhoto",
    "KeptWorkshop",
    "Place",
    "Records",
    "Workshops",
    "job_text",
    "underside_gone",
    "without_underside",
]
