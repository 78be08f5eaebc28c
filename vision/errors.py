"""What can go wrong on the way from a photo to pieces of dough.

VisionError
|-- PhotoError    the file is no usable photo
|-- ScaleError    the scale cannot be worked out
`-- PaletteError  the tapped colours cannot be used
"""


class VisionError(ValueError):
    """One clear sentence: what is wrong, with its value, and what to do."""

    def __init__(self, template: str, /, **slots: object) -> None:
        """`template` with `{slots}`, kept so that the sentence can be said in another language."""
        super().__init__(template.format_map(slots) if slots else template)
        self.template, self.slots = template, slots


class PhotoError(VisionError):
    """The file is missing, damaged, too large or no photo."""


class ScaleError(VisionError):
    """The two scale points and their distance make no scale."""


class PaletteError(VisionError):
    """A colour has no tap, a tap lies outside the photo, or two colours share a name."""
