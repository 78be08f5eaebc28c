"""What changed between two photos, in words for each age: at most 9, 14 and 20 words."""

from collections.abc import Mapping

from api.fields import State
from api.language.speech import N_, _, translated
from api.wording.sentences import Age

SAYS: Mapping[str, Mapping[Age, str]] = {
    "cut": {
        "6-8": "One part of dough is two parts now.",
        "9-12": "One lump was cut: {a} and {b} are apart now.",
        "13+": "One lump was parted: {a} and {b} have no contact now.",
    },
    "joined": {
        "6-8": "Two parts of dough are one part now.",
        "9-12": "Two lumps are joined now: both are {a}.",
        "13+": "Two lumps became one electrical body, {a}.",
    },
    "added": {
        "6-8": "There is more dough here.",
        "9-12": "Dough was added here, about {size} mm².",
        "13+": "Dough was added here: {size} mm² seen from above.",
    },
    "taken": {
        "6-8": "Some dough is gone here.",
        "9-12": "Dough was taken away here, about {size} mm².",
        "13+": "Dough was taken away here: {size} mm² seen from above.",
    },
    "wall-thicker": {
        "6-8": "The wall is thicker here.",
        "9-12": "The wall is {size} mm thicker here.",
        "13+": "The insulating wall gained {size} mm here.",
    },
    "light": {
        "6-8": "{part}: {was} before, {now} now.",
        "9-12": "{part} was {was}, is {now} now, by the sums.",
        "13+": "{part} was {was} and is {now} now, according to the solved circuit.",
    },
    "nothing": {
        "6-8": "The dough looks the same as before.",
        "9-12": "Nothing changed that the photo can show.",
        "13+": "No change of dough, contacts or lights can be seen.",
    },
    "outside": {
        "6-8": "{part}: maybe off the picture. Tap it again.",
        "9-12": "{part} may lie outside the new photo. Tap where it goes in.",
        "13+": "{part} falls outside the new photo. Tap where it goes in.",
    },
    "off-dough": {
        "6-8": "{part}: no dough there now. Tap it again.",
        "9-12": "{part} was in dough; now there is none. Tap where it goes in.",
        "13+": "{part} was in conductive dough; now there is none. Tap where it goes in.",
    },
    "changed": {
        "6-8": "Look at {part}. Is it still there?",
        "9-12": "The dough round {part} changed. Check where it goes in.",
        "13+": "The dough round {part} changed. Check the tapped place.",
    },
    "colour-missing": {
        "6-8": "I cannot find {part}. Tap it again.",
        "9-12": "The colour {part} is not found again. Tap it if it is there.",
        "13+": "The colour {part} is not found again. Tap it on the new photo.",
    },
    "colour": {
        "6-8": "Is {part} right? Tap it again if not.",
        "9-12": "{part} may be mistaken for another colour. Tap it to be sure.",
        "13+": "{part} may be mistaken for another colour in this light. Tap it to be sure.",
    },
    "two-ways": {
        "6-8": "Check every leg. The picture may be turned.",
        "9-12": "The sculpture fits in more than one way. Check every leg and lead.",
        "13+": "The outline fits in more than one way round. Check all entries.",
    },
}
"""Sentences by kind of change, or of doubt; slots: part, a and b (letters of lumps), size, was and now."""


UNDERSIDE_GONE = N_(
    "The photo of the underside was deleted, so only the photo from above counts. Take it again if you like."
)


def change_words(kind: str, age: Age, **facts: str | State) -> str:
    """The sentence of a change or a doubt."""
    words = {name: translated(str(fact), "word") for name, fact in facts.items()}
    return translated(SAYS[kind][age]).format_map(words)


def entry_name(entry: str) -> str:
    """`L1.long` as a helper would say it, at the head of a sentence or in it."""
    part, __, end = entry.partition(".")
    if part == "pack":
        return _("The red lead") if end == "plus" else _("The black lead")
    if end == "long":
        return _("The long leg of {part}", part=part)
    if end == "short":
        return _("The short leg of {part}", part=part)
    return _("End {end} of {part}", end=end, part=part)
