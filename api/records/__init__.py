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

__all__ = [
    "KeptDraft",
    "KeptInspection",
    "KeptPhoto",
    "Place",
    "Records",
    "job_text",
    "underside_gone",
    "without_underside",
]
