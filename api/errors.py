"""One exception for all that a user can get wrong around the two engines, and one shape for every error."""

from typing import Any

from pydantic import ValidationError

from api.language.speech import _, filled, translated
from circuit.errors import CircuitError
from vision.errors import VisionError


class InputError(ValueError):
    """One clear sentence: what is wrong, with its value, and what to do."""

    def __init__(self, template: str, /, **slots: object) -> None:
        """`template` with `{slots}`, kept so that the sentence can be said in another language."""
        super().__init__(template.format_map(slots) if slots else template)
        self.template, self.slots = template, slots


_SENTENCE = {"type": "object", "properties": {"error": {"type": "string"}}, "required": ["error"]}
_TOLD = {"application/json": {"schema": _SENTENCE}}
REFUSALS: dict[int | str, dict[str, Any]] = {
    "4XX": {"description": "Refused in one sentence: what is wrong, and what to do.", "content": _TOLD},
    503: {"description": "Not now, in one sentence.", "content": _TOLD},
}
"""What every route may answer beside its own, for the API's description."""

USER_ERRORS = (InputError, VisionError, CircuitError)
"""What the command line (status 2) and the web (HTTP 4xx) say in one sentence."""


def told(error: Exception) -> str:
    """What an error says, in the language that is spoken as far as it has words for it."""
    if not isinstance(error, USER_ERRORS):
        return translated(str(error))
    slots = {name: _word(value) for name, value in error.slots.items()}
    return filled(translated(error.template), slots)


def _word(value: object) -> object:
    return translated(value, "word") if isinstance(value, str) else value


def sentence(error: ValidationError) -> str:
    """The first thing wrong in what was told, as one sentence that names the field.

    Reasons in pydantic's own words stay English.
    """
    first = error.errors()[0]
    where = ".".join(str(part) for part in first["loc"]) or "the case"
    if first["type"] == "extra_forbidden":
        return _(
            "There is a field that is not known here: {where}. Take it out or correct its name.",
            where=where,
        )
    if first["type"] == "missing":
        return _("The field {where} is missing. Add it.", where=where)
    if first["type"] == "json_invalid":
        return _("This is not valid JSON ({why}). Correct it there.", why=first["ctx"]["error"])
    if first["type"] == "value_error":
        reason = told(first["ctx"]["error"]).rstrip(".")
        return f"{reason[0].upper()}{reason[1:]}."
    reason = first["msg"].rstrip(".")
    return _(
        "The field {where} is not usable: {why}. Correct it.",
        where=where,
        why=f"{reason[0].lower()}{reason[1:]}",
    )
