"""The slots of the sentences: every fact a finding may carry, its unit, and how it is read aloud."""

import math
import re
from collections.abc import Callable, Mapping, Sequence

from api.language.speech import N_, _, figure, listed, translated

LEADS = {"pack.plus": N_("the red lead"), "pack.minus": N_("the black lead")}
LEGS = {"long": N_("the long leg"), "short": N_("the short leg")}
MM = N_("{n}\u00a0mm")
AND = re.compile(r", | and ")

FACTS: Mapping[str, tuple[str, str]] = {
    "emf_V": ("V", "the pack with nothing joined to it"),
    "volts_V": ("V", "over the part, whichever way round"),
    "drop_V": ("V", "lost in the dough on the way"),
    "pack_A": ("A", "out of the pack"),
    "led_A": ("A", "through the LED or other part"),
    "share_A": ("A", "on the way round"),
    "safe_A": ("A", "the most that the LED bears for long"),
    "works_A": ("A", "from here on the part works"),
    "leak_A": ("A", "through insulating dough"),
    "way_ohm": ("ohm", "the way round, or the long way"),
    "cut_mm": ("mm", "length of the cut"),
    "gap_mm": ("mm", "between two lumps"),
    "off_mm": ("mm", "from a leg or lead to the nearest dough"),
    "wall_mm": ("mm", "thickness of the wall"),
    "neck_mm": ("mm", "width of the neck"),
    "long_mm": ("mm", "length of the way through dough"),
    "delta_e": ("1", "CIEDE2000 difference of two colours"),
    "count": ("count", "how many lights"),
    "lump": ("", "letter of the lump"),
    "to": (
        "",
        "letter of the lump that the long leg of an LED in backwards is in now: the short leg goes there",
    ),
    "dough": ("", "name of the dough"),
    "other": ("", "name of the other dough, or `the table`"),
    "near": ("", "name of the nearest dough"),
    "beside": ("", "the LED nearest to the place"),
    "crosses": ("", "the LEDs on the way, or those that a short goes round, listed"),
    "part_kind": ("", "wire, switch, resistor, buzzer or motor"),
    "seen": ("", "how the LED looks: bright, dim or off"),
    "state": ("", "how it should look"),
}
"""Name of a fact -> its unit and what it is."""

OF_PARTS: Mapping[str, str] = {
    "part": "the first part",
    "parts": "all parts, listed",
    "row": "all parts, listed, if there are at least two",
    "entry": "the leg, lead or end that is named, with its LED or part",
    "leg": "the same without the name of its LED or part",
    "way_V": "volts along the way round: Ohm's law with the two figures as they are shown",
}
"""Slots that are worked out from the parts and facts of a finding."""

Facts = Mapping[str, str | float]


def slots_of(parts: Sequence[str], facts: Facts) -> dict[str, str]:
    """All slots that are known, as they are read aloud. What is missing or no usable value is left out."""
    slots = {name: _read(name, value) for name, value in facts.items() if name in FACTS}
    slots |= _of_parts([name for name in parts if name != "pack"], str(facts.get("part_kind", "")))
    if slots.get("other") == slots.get("dough"):
        slots.pop("other", None)
    slots["way_V"] = _ohms_law(facts)
    return {name: text for name, text in slots.items() if text}


def mm(value: float) -> str:
    """A length as it is read aloud: whole mm, below 3 mm with one decimal."""
    return _(MM, n=figure(value, ".0f") if value >= 3 else figure(max(value, 0.1), ".1f"))


def volts(value: float) -> str:
    """Two figures, whichever way round; below 10 mV as such."""
    if abs(value) < 0.01:
        return _("less than {n}\u00a0V", n=figure("0.01"))
    return _("{n}\u00a0V", n=two_figures(abs(value)))


def amperes(value: float) -> str:
    """Two figures: from 0.1 A in A, below in mA."""
    value = abs(value)
    if value >= 0.1:
        return _("{n}\u00a0A", n=two_figures(value))
    if value < 1e-5:
        return _("less than {n}\u00a0mA", n=figure("0.01"))
    return _("{n}\u00a0mA", n=two_figures(value * 1e3))


def ohms(value: float) -> str:
    """Two figures: from 1000 ohm in kohm."""
    if value >= 1e3:
        return _("{n}\u00a0kohm", n=two_figures(value / 1e3))
    return _("{n}\u00a0ohm", n=two_figures(value))


def two_figures(value: float) -> str:
    """1.9, 26 or 0.19; a whole number from 100 on."""
    decimals = max(0, 1 - math.floor(math.log10(value))) if value > 0 else 0
    return figure(value, f".{min(decimals, 6)}f")


def entry_words(name: str, part_kind: str = "") -> tuple[str, str]:
    """`L2.short` as 'the short leg of L2' and 'the short leg'; both empty for what is no entry."""
    if name in LEADS:
        return translated(LEADS[name]), translated(LEADS[name])
    part, dot, end = name.partition(".")
    if not dot:
        return "", ""
    red = part_kind == "buzzer" and end == "a"
    leg = translated(LEGS[end]) if end in LEGS else _("the red wire") if red else _("one end")
    return _("{leg} of {part}", leg=leg, part=part), leg


UNITS: Mapping[str, Callable[[float], str]] = {
    "mm": mm,
    "V": volts,
    "A": amperes,
    "ohm": ohms,
    "count": lambda value: figure(value, ".0f"),
    "1": lambda value: figure(value, ".1f"),
}


def _read(name: str, value: str | float) -> str:
    read = UNITS.get(FACTS[name][0])
    if read is None:
        if not isinstance(value, str):
            return ""
        # A dough may be named 'salt dough': it is not to become 'salt dough dough'.
        told = value.strip().removesuffix(" dough")
        return listed(AND.split(told)) if name == "crosses" else translated(told, "word")
    try:
        number = float(value)
    except (TypeError, ValueError):
        return ""
    return read(number) if math.isfinite(number) else ""


def _of_parts(names: Sequence[str], part_kind: str) -> dict[str, str]:
    if not names:
        return {}
    entry, leg = entry_words(names[0], part_kind)
    part = "" if names[0] in LEADS else names[0].partition(".")[0]
    row = listed(names) if len(names) > 1 else ""
    return {"part": part, "parts": listed(names), "row": row, "entry": entry, "leg": leg}


def _ohms_law(facts: Facts) -> str:
    """The product of the two figures as shown, so that the sum on the page comes out."""
    try:
        share, way = float(facts["share_A"]), float(facts["way_ohm"])
    except (KeyError, TypeError, ValueError):
        return ""
    if not (1e-5 <= share < math.inf and 0 < way < math.inf):
        return ""
    return volts(float(f"{share:.2g}") * float(f"{way:.2g}"))
