"""What can go wrong in the sums.

CircuitError
|-- SculptureError  the description of the sculpture contradicts itself
|-- SolveError      the operating point was not found
`-- ChangeError     a change that cannot be made to this sculpture
"""


class CircuitError(ValueError):
    """One clear sentence: what is wrong, with its value, and what to do."""

    def __init__(self, template: str, /, **slots: object) -> None:
        """`template` with `{slots}`, kept so that the sentence can be said in another language."""
        super().__init__(template.format_map(slots) if slots else template)
        self.template, self.slots = template, slots


class SculptureError(CircuitError):
    """The description of the sculpture contradicts itself."""


class SolveError(CircuitError):
    """The operating point was not found; says after how many steps and with what residual."""


class ChangeError(CircuitError):
    """A change that cannot be made to this sculpture."""
