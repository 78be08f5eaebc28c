"""The colours that the helper chose, checked."""

from collections.abc import Sequence

from vision.errors import PaletteError
from vision.model import Colour, Photo


def check_palette(photo: Photo, palette: Sequence[Colour]) -> None:
    """Raise PaletteError unless every colour has taps and all of them lie on the photo."""
    check_names(palette)
    for colour in palette:
        if not colour.taps:
            raise PaletteError(
                "The colour {name} has no tap; tap it once on the photo.",
                name=colour.name,
            )
        for x, y in colour.taps:
            if not (0 <= x <= photo.width and 0 <= y <= photo.height):
                raise PaletteError(
                    "A tap of {name} at ({x:g}, {y:g}) lies outside the photo of {width} x {height} "
                    "pixels; tap it on the photo.",
                    name=colour.name,
                    x=x,
                    y=y,
                    width=photo.width,
                    height=photo.height,
                )


def check_names(palette: Sequence[Colour]) -> None:
    """Raise PaletteError when there is no dough, too much of it, or two colours share a name."""
    doughs = [colour.name for colour in palette if colour.role != "table"]
    if not doughs:
        raise PaletteError("The palette has no dough colour; tap at least one dough.")
    if len(doughs) > 200:
        raise PaletteError(
            "The palette has {count} dough colours; give at most 200.",
            count=len(doughs),
        )
    twice = [name for name in doughs if doughs.count(name) > 1]
    if twice:
        raise PaletteError(
            "Two colours are named {name}; give each its own name.",
            name=twice[0],
        )


def doughs_of(palette: Sequence[Colour]) -> list[Colour]:
    """The dough colours in order; the i-th (from 1) has label i."""
    return [colour for colour in palette if colour.role != "table"]
