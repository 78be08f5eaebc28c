"""Codes into sentences, in English, for ages 9 to 12. The sculpture has the fault, never the child."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from circuit.model import Finding, Remedy, Step

NO_BREAK = "\u00a0"

WHY: Mapping[str, str] = {
    "short-pressed-together": "Two lumps are pressed together.",
    "short-bridge": "A strip of {dough} dough joins both sides.",
    "short-round-the-end": "{Dough} dough goes round the end of the wall.",
    "short-over-the-wall": "{Dough} dough breaks through the wall.",
    "led-backwards": "{part} is in backwards.",
    "legs-in-one-lump": "Both legs of {part} are in one lump.",
    "leg-out": "{Entry} misses the dough.",
    "leg-in-insulator": "{Entry} is in insulating dough.",
    "gap-in-lump": "There is a gap in the dough.",
    "too-many-in-a-row": "{Parts} share the pack in a row.",
    "near-touch": "Two lumps nearly touch.",
    "leads-touching": "The two leads may touch.",
    "led-without-dough": "{part} sits straight on the leads.",
    "leads-swapped": "Red and black lead are swapped.",
    "seen-differs": "{part} looks other than it should.",
    "colours-too-alike": "{Dough} and {other} look alike here.",
}
"""The one sentence on top: under 45 letters, no number."""

FINGER = "Put a finger on the red lead. Can you walk to the black lead without crossing a light?"
ASK: Mapping[str, str] = {
    "short-pressed-together": FINGER,
    "short-bridge": FINGER,
    "short-round-the-end": FINGER,
    "short-over-the-wall": FINGER,
    "led-backwards": "Follow the long leg of each dark light. Does it reach the red lead?",
    "legs-in-one-lump": "Walk from one leg of a dark light to the other. Did you leave the dough?",
    "leg-out": "Touch each leg and each lead in turn. Is every one inside dough?",
    "leg-in-insulator": "Touch each leg and each lead. Which dough is each one in?",
    "gap-in-lump": "Walk from the red lead to each light. Does the dough stop on the way?",
    "too-many-in-a-row": "Walk from red to black. How many lights do you cross?",
    "near-touch": "Push the sculpture a little. Could two lumps touch?",
    "leads-touching": "Where does the red lead end, and where the black one?",
    "led-without-dough": "Which dough is between the pack and each light?",
    "leads-swapped": "Which lead do all the long legs reach?",
    "seen-differs": "Lift the dough a little. What do you see underneath?",
    "colours-too-alike": "Look at the photo. Can you tell every dough from what lies beside it?",
}
LOOK: Mapping[str, str] = {
    "short-pressed-together": "Look where two lumps meet{beside}.",
    "short-bridge": "Look for a thin strip between two lumps{beside}.",
    "short-round-the-end": "Look where the wall stops{beside}.",
    "short-over-the-wall": "Look along the wall{beside}.",
    "led-backwards": "Look at the legs of {part}: which one is longer?",
    "legs-in-one-lump": "Look at the two legs of {part}.",
    "leg-out": "Look at {entry}.",
    "leg-in-insulator": "Look at {entry}, in {dough} dough.",
    "gap-in-lump": "Look between {dough} and {other}.",
    "too-many-in-a-row": "Look at {parts}: one feeds the next.",
    "near-touch": "Look between {dough} and {other}.",
    "leads-touching": "Look at the two leads.",
    "led-without-dough": "Look at the legs of {part}.",
    "leads-swapped": "Look at both leads and at the long legs.",
    "seen-differs": "Look under the dough, at the leads and at the pack.",
    "colours-too-alike": "Look where {dough} ends and {other} begins.",
}
DO: Mapping[str, str] = {
    "short-pressed-together": "Cut here, {cut_mm} long, right down to the table. Keep the two sides apart.",
    "short-bridge": "Take the strip away: cut here, {cut_mm} long, right down to the table.",
    "short-round-the-end": "Cut here, {cut_mm} long, right down to the table. Keep the two sides apart.",
    "short-over-the-wall": "Cut here, {cut_mm} long, right down to the table, and close the wall.",
    "led-backwards": "Turn {part} round, so that its legs change places.",
    "legs-in-one-lump": "Move one leg of {part} to the other lump.",
    "leg-out": "Press {entry} into the dough{near}.",
    "leg-in-insulator": "Move {entry} into conductive dough.",
    "gap-in-lump": "Press the dough together across the gap of {gap_mm}.",
    "too-many-in-a-row": "Set {parts} side by side: each from the red lump to the black lump.",
    "near-touch": "Pull the two lumps apart, they are {gap_mm} from each other.",
    "leads-touching": "Unplug the pack and pull the two leads apart.",
    "led-without-dough": "Unplug the pack and put dough between {part} and both leads.",
    "leads-swapped": "Swap the two leads.",
    "seen-differs": "The photo looks right for {part}. Check what it cannot show.",
    "colours-too-alike": "{Advice}, or take the photo in daylight, by a window.",
}
STEP: Mapping[str, str] = {
    "turn": "Turn {part} round",
    "swap-leads": "Swap the two leads",
    "cut": "Cut here, {cut_mm} long, right down to the table",
    "move": "Move {entry} into the {dough} dough here",
    "join": "Press the dough together across the gap of {gap_mm}",
}
BOTH_LEGS = "Set {part} here: long leg in the {high}, short leg in the {low}."
CHECK: Mapping[str, str] = {
    "turn": "Nine in ten dark lights are in backwards. Turn {part} round and look.",
    "look-underneath": "The photo looks right. Lift the dough and look underneath.",
    "press-in": "A loose leg or lead cannot be seen. Press all legs and leads in.",
    "swap-pack": "A tired pack cannot be seen. Try another pack.",
    "swap-led": "{part} may be worn out. Try another LED.",
}
APART: Mapping[str, str] = {
    "dough": "knead more colour into one of them",
    "table": "put a sheet of another colour under the dough",
}
"""What to do about a dough that looks like another one, and like the table."""
ENTRY = {"pack.plus": "the red lead", "pack.minus": "the black lead"}
CAUTIONS = (
    "Unplug the pack before you cut, press or move anything. Two leads that touch make it hot.",
    "Never put an LED straight on the pack: it breaks, and a broken one can be sharp.",
    "LEDs and cells are small parts. Keep them from small children. A swallowed cell: get help at once.",
    "The dough is salty and may hold wheat: not for eating, not for pets, and mind allergies.",
    "The makers' instructions, local rules and whoever supervises come first.",
)


@dataclass(frozen=True)
class Words:
    """What a finding says: why, and on three levels what to do about it."""

    why: str
    ask: str
    look: str
    do: str


def mm(value: float) -> str:
    """A length as it is read aloud: whole mm, below 3 mm with one decimal."""
    return f"{value:.0f}{NO_BREAK}mm" if value >= 3 else f"{max(value, 0.1):.1f}{NO_BREAK}mm"


def listed(names: Sequence[str]) -> str:
    """L1, L2 and L3."""
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else "".join(names)


def entry_words(name: str) -> str:
    """`L2.short` as 'the short leg of L2'."""
    if name in ENTRY:
        return ENTRY[name]
    part, _, leg = name.partition(".")
    return f"the {leg} leg of {part}"


def finding_words(finding: Finding) -> Words:
    """The sentences of a finding."""
    slots = _slots(finding.parts, finding.facts, finding.cut_mm)
    texts = (table[finding.code].format_map(slots) for table in (WHY, ASK, LOOK, DO))
    return Words(*(_capital(text) for text in texts))


def step_words(step: Step) -> str:
    """One step of a remedy."""
    slots = _slots(step.parts, step.facts, None)
    return _capital(STEP[step.action].format_map(slots)) + "."


def remedy_words(remedy: Remedy) -> str:
    """All steps of a remedy, in order; the two legs of one LED in one sentence."""
    said, rest = [], list(remedy.steps)
    while rest:
        step = rest.pop(0)
        other = rest[0] if rest else None
        if other is not None and _one_led(step, other):
            rest.pop(0)
            part = step.parts[0].split(".")[0]
            said.append(BOTH_LEGS.format(part=part, high=_place(step, other), low=_place(other, step)))
        else:
            said.append(step_words(step))
    return " ".join(said)


def _place(step: Step, other: Step) -> str:
    """Where a leg goes: by its dough, or by its lump when the other leg goes into the same dough."""
    dough = str(step.facts["dough"])
    return f"{dough} dough" if dough != other.facts["dough"] else f"{dough} lump {step.to}"


def _one_led(step: Step, other: Step) -> bool:
    """Whether two steps move the long and then the short leg of one LED."""
    if step.action != "move" or other.action != "move":
        return False
    part, _, leg = step.parts[0].partition(".")
    return leg == "long" and other.parts[0] == f"{part}.short"


def check_words(action: str, parts: Sequence[str]) -> str:
    """Why this check comes next, and what to do."""
    return _capital(CHECK[action].format_map(_slots(tuple(parts), {}, None)))


def _slots(parts: Sequence[str], facts: Mapping[str, str | float], cut_mm: float | None) -> dict[str, str]:
    part = parts[0] if parts else ""
    entry = entry_words(part) if part in ENTRY or "." in part else ""
    dough = str(facts.get("dough", "conductive"))
    near = str(facts.get("near", ""))
    beside = str(facts.get("beside", ""))
    return {
        "part": part,
        "parts": listed(parts),
        "Parts": listed(parts),
        "entry": entry,
        "Entry": _capital(entry),
        "dough": dough,
        "Dough": _capital(dough),
        "other": str(facts.get("other", "")),
        "Advice": _capital(APART[str(facts.get("against", "dough"))]),
        "near": f": {near}, {mm(float(facts.get('off_mm', 0)))} away" if near else "",
        "beside": f", close to {beside}" if beside else "",
        "cut_mm": mm(float(facts.get("cut_mm", cut_mm or 0.0))),
        "gap_mm": mm(float(facts.get("gap_mm", 0.0))),
    }


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
