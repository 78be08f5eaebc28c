"""One exception for all that a user can get wrong around the two engines, and one shape for every error."""

from pydantic import ValidationError

from circuit.errors import CircuitError
from vision.errors import VisionError


class InputError(ValueError):
    """One clear sentence: what is wrong, with its value, and what to do."""


USER_ERRORS = (InputError, VisionError, CircuitError)
"""What the command line (status 2) and the web (HTTP 4xx) say in one sentence."""


def sentence(error: ValidationError) -> str:
    """The first thing wrong in a case, as one sentence that names the field."""
    first = error.errors()[0]
    where = ".".join(str(part) for part in first["loc"]) or "the case"
    if first["type"] == "extra_forbidden":
        return f"The case has a field that is not known here: {where}. Take it out or correct its name."
    if first["type"] == "missing":
        return f"The case lacks the field {where}. Add it."
    if first["type"] == "json_invalid":
        return f"The case is not valid JSON ({first['ctx']['error']}). Correct it there."
    reason = first["msg"].removeprefix("Value error, ").rstrip(".")
    if first["type"] == "value_error":
        return f"{reason[0].upper()}{reason[1:]}."
    return f"The field {where} of the case is not usable: {reason[0].lower()}{reason[1:]}. Correct it."
