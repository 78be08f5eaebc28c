"""What is kept: photos beside the database, everything else in it."""

from api.records.calls import Calls, KeptCall, Outcome, Queue, WaitingCall
from api.records.kept import (
    NOWHERE,
    KeptDraft,
    KeptInspection,
    KeptPhoto,
    Place,
    job_text,
    underside_gone,
    without_underside,
)
from api.records.records import Records
from api.records.sculptures import KeptLook, KeptSculpture, Sculptures, SculptureTold
from api.records.stored import Stored
from api.records.workshops import KeptWorkshop, Workshops

__all__ = [
    "NOWHERE",
    "Calls",
    "KeptCall",
    "KeptDraft",
    "KeptInspection",
    "KeptLook",
    "KeptPhoto",
    "KeptSculpture",
    "KeptWorkshop",
    "Outcome",
    "Place",
    "Queue",
    "Records",
    "SculptureTold",
    "Sculptures",
    "Stored",
    "WaitingCall",
    "Workshops",
    "job_text",
    "underside_gone",
    "without_underside",
]
