"""Texts that people type: what does not show is not kept, and bounds hold for what shows."""

import pytest
from pydantic import TypeAdapter, ValidationError

from api.workshop_schemas import Nickname, Short

NICKNAME: TypeAdapter[str] = TypeAdapter(Nickname)


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("  Owl ", "Owl"),
        ("a\tb\r\nc\u2028d", "a b c d"),
        ("O\x00w\x1bl\x7f", "Owl"),  # controls
        ("Owl\u202e7\u202c", "Owl7"),  # an override that turns the direction, Unicode Annex 9
        ("\u2067Owl\u2069\u200f", "Owl"),  # isolates and marks
        ("O\u200bw\u200dl\ufeff\u00ad\u2060", "Owl"),  # zero-width ones
        ("Owl\ud800", "Owl"),  # half a surrogate pair, which no database takes
        ("Jose\u0301", "Jos\u00e9"),  # typed in two ways, kept in one: NFC, Unicode Annex 15
        ("منى", "منى"),
        ("Owl 🦉", "Owl 🦉"),
    ],
)
def test_what_does_not_show_is_not_kept(typed: str, kept: str) -> None:
    assert NICKNAME.validate_python(typed) == kept


def test_bounds_hold_for_what_shows() -> None:
    assert NICKNAME.validate_python("x" * 24 + "\u200b" * 500) == "x" * 24
    with pytest.raises(ValidationError):
        NICKNAME.validate_python("x" * 25)
    assert NICKNAME.json_schema()["maxLength"] == 24
    assert TypeAdapter(Short).json_schema()["maxLength"] == 60


@pytest.mark.parametrize("other", [7, None, ["Owl"], {"a": 1}])
def test_what_is_no_text_is_refused(other: object) -> None:
    with pytest.raises(ValidationError):
        NICKNAME.validate_python(other)
