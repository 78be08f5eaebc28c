"""What a maker learned to look for, in the first person: a sentence or three for each kind of fault mended.

At most 9, 14 and 20 words a sentence; no numbers for the youngest. The electricity does something, the
dough or the part was so; nobody did anything wrong.
"""

from collections import Counter
from collections.abc import Mapping, Sequence

from api.language.speech import N_, translated
from api.schemas import FindingOut, Report
from api.wording.sentences import Age

ROUND_A_LIGHT: Mapping[Age, str] = {
    "6-8": N_("Electricity takes the easy way. It went round my light."),
    "9-12": N_("Electricity takes the easy way. Here it went round a light instead of through it."),
    "13+": N_("Current prefers the path of least resistance: dough beside an LED can bypass it."),
}
LEARNED: Mapping[str, Mapping[Age, str]] = {
    "short-pressed-together": {
        "6-8": N_("Electricity takes the easy way. I keep my lumps apart."),
        "9-12": N_("Electricity takes the easy way. Two lumps that touch let it skip the lights."),
        "13+": N_("Two lumps that touch are one conductor: the current skips whatever lies between them."),
    },
    "short-bridge": {
        "6-8": N_("A thin strip is a bridge. Electricity walks over it."),
        "9-12": N_("Even a thin strip of dough is a bridge. Electricity takes it and skips the lights."),
        "13+": N_("Even a thin strip of conductive dough is a bridge that shorts what it spans."),
    },
    "short-round-the-end": {
        "6-8": N_("Electricity can walk round a wall. I look at both ends."),
        "9-12": N_("Electricity takes the easy way. I look where a wall ends: dough may go round it."),
        "13+": N_("A wall parts two lumps only if it reaches from edge to edge. I check both of its ends."),
    },
    "short-over-the-wall": {
        "6-8": N_("A wall must be whole. I look along it for holes."),
        "9-12": N_("A wall keeps dough apart only if it is whole. I look along all of it."),
        "13+": N_(
            "An insulating wall works only without a breach. I check it over its length and its height."
        ),
    },
    "short-wire": {
        "6-8": N_("A wire is a very easy way. I look what it joins."),
        "9-12": N_("A wire is the easiest way of all. I follow both of its ends."),
        "13+": N_("A wire has nearly no resistance, so I check which two lumps its ends connect."),
    },
    "led-backwards": {
        "6-8": N_("Lights have a long leg. It goes to the red side."),
        "9-12": N_("A light lets electricity through one way only. Its long leg goes to the red side."),
        "13+": N_("An LED conducts one way only: its anode, the long leg, belongs on the positive side."),
    },
    "legs-in-one-lump": {
        "6-8": N_("A light needs two lumps, one for each leg."),
        "9-12": N_("A light needs two lumps. With both legs in one, electricity goes past it."),
        "13+": N_("An LED needs a voltage across it, so its two legs belong in two separate lumps."),
    },
    "leg-out": {
        "6-8": N_("I touch each leg. Is it in the dough?"),
        "9-12": N_("Electricity cannot jump. Every leg and every lead must be inside dough."),
        "13+": N_("A circuit is a closed loop: one leg outside the dough is enough to open it."),
    },
    "leg-in-insulator": {
        "6-8": N_("Wall dough stops electricity. Legs go into the other dough."),
        "9-12": N_("Wall dough stops electricity. Legs and leads go into conductive dough."),
        "13+": N_("Insulating dough hardly conducts, so every leg and lead belongs in conductive dough."),
    },
    "gap-in-lump": {
        "6-8": N_("Electricity cannot jump over a gap. I press dough together."),
        "9-12": N_("Electricity cannot jump over a gap. I feel whether the dough goes all the way."),
        "13+": N_("A gap opens the circuit. I trace the dough from the lead to each LED to find it."),
    },
    "too-many-in-a-row": {
        "6-8": N_("Lights in a row must share. Side by side is better."),
        "9-12": N_("Lights in a row share the push of the pack. Side by side, each gets all."),
        "13+": N_("In series the LEDs divide the pack's voltage. In parallel each one gets all of it."),
    },
    "near-touch": {
        "6-8": N_("I leave room for a finger between two lumps."),
        "9-12": N_("Soft dough moves. I leave room for a finger between two lumps."),
        "13+": N_("Soft dough creeps: I leave enough distance, so that two lumps stay apart."),
    },
    "thin-wall": {
        "6-8": N_("A thin wall may break. I make it thick."),
        "9-12": N_("A thin wall may give way. I feel along it and thicken it."),
        "13+": N_("A wall fails at its thinnest place, so I check and thicken it there."),
    },
    "leads-touching": {
        "6-8": N_("Red and black lead must never touch."),
        "9-12": N_("The two leads must never touch: the pack would get hot."),
        "13+": N_("Two leads that touch short the pack and heat it, so I keep them far apart."),
    },
    "leads-in-one-lump": {
        "6-8": N_("Each lead needs a lump of its own."),
        "9-12": N_("Each lead needs its own lump. In one lump electricity skips the lights."),
        "13+": N_("Two leads in one lump short the pack through the dough: each needs a lump of its own."),
    },
    "led-without-dough": {
        "6-8": N_("A light needs dough between it and the pack."),
        "9-12": N_("Dough holds back some electricity. Without it a light gets too much."),
        "13+": N_("Dough is also a resistor: without it nothing limits the current through an LED."),
    },
    "leads-swapped": {
        "6-8": N_("All long legs look towards the red lead."),
        "9-12": N_("Every long leg must reach the red lead. I check which lead is where."),
        "13+": N_("If every LED seems reversed, it is quicker to swap the two leads than to turn them all."),
    },
    "seen-differs": {
        "6-8": N_("A photo cannot see underneath. I look there, too."),
        "9-12": N_("A photo cannot show everything. I also look under the dough and press the legs in."),
        "13+": N_("A picture from above hides things. I test one possible cause at a time."),
    },
    "colours-too-alike": {
        "6-8": N_("Two doughs need two different colours."),
        "9-12": N_("Doughs that look alike are easily mixed up. I choose colours that differ."),
        "13+": N_("If two doughs look alike, nobody can check the circuit by eye. I keep them distinct."),
    },
    "switch-open": {
        "6-8": N_("An open switch stops electricity. I press it shut."),
        "9-12": N_("An open switch is a gap. I check it before I look further."),
        "13+": N_("An open switch opens the loop, so I check switches before anything else."),
    },
    "part-backwards": {
        "6-8": N_("A buzzer has a red wire. It goes to the red side."),
        "9-12": N_("A buzzer works one way round only. Its red wire goes to the red side."),
        "13+": N_("A buzzer has a polarity, like an LED: its red wire belongs on the positive side."),
    },
    "part-starved": {
        "6-8": N_("Long dough makes weak electricity. I move parts closer."),
        "9-12": N_("The more dough on the way, the weaker the current. I move parts closer."),
        "13+": N_("Dough has resistance: a part that needs much current belongs close to the leads."),
    },
    "long-way": {
        "6-8": N_("Short and thick dough makes lights bright."),
        "9-12": N_("Long, thin dough holds electricity back. Short, thick dough makes lights bright."),
        "13+": N_(
            "Resistance grows with length and falls with cross-section, so I keep dough short and thick."
        ),
    },
    "in-a-row": {
        "6-8": N_("Lights side by side never wait for each other."),
        "9-12": N_("In a row one light can put out the next. Side by side they cannot."),
        "13+": N_("In series one LED interrupts all others. In parallel each works on its own."),
    },
    "weak-neck": {
        "6-8": N_("A thin place may tear. I press more dough on."),
        "9-12": N_("Many lights can hang on one thin place. I make it thicker."),
        "13+": N_("A narrow neck carries the current of many LEDs, so I make it wider."),
    },
    "led-overloaded": {
        "6-8": N_("Too much electricity breaks a light."),
        "9-12": N_("Too much current ruins a light. I count the cells of the pack."),
        "13+": N_("An LED has a greatest safe current, so I match the pack to it."),
    },
}
"""By the code of a finding."""
MOST = 2
"""So many things learned fit on a card."""

FINGER, UNPLUGGED = N_("I put a finger on the red lead."), N_("I unplugged the pack.")
FOUND: Mapping[str, tuple[str, ...]] = {
    "walk": (
        FINGER,
        N_("I walked along the dough to the black lead."),
        N_("I met no light on the way."),
        UNPLUGGED,
        N_("I parted the dough there."),
    ),
    "past": (
        N_("I put a finger beside a dark light."),
        N_("I walked along the dough past it."),
        N_("The dough went all the way round."),
        UNPLUGGED,
        N_("I parted the dough there."),
    ),
    "turn": (
        N_("I looked at the light that stayed dark."),
        N_("I followed its long leg with my finger."),
        N_("It did not lead to the red side."),
        UNPLUGGED,
        N_("I turned it round."),
    ),
    "touch": (
        N_("I touched every leg and every lead."),
        N_("I looked which dough each one was in."),
        UNPLUGGED,
        N_("I moved one to its place."),
    ),
    "gap": (
        FINGER,
        N_("I walked along the dough to each light."),
        N_("In one place the dough stopped."),
        UNPLUGGED,
        N_("I pressed the dough together there."),
    ),
    "row": (
        N_("I walked from the red lead to the black."),
        N_("I met more than one light on the way."),
        UNPLUGGED,
        N_("I set the lights side by side."),
    ),
    "feel": (
        N_("I felt along the dough and the walls."),
        N_("One place was thin."),
        UNPLUGGED,
        N_("I pressed more dough on there."),
    ),
    "near": (
        N_("I pushed the dough a little."),
        N_("Two lumps were close to each other."),
        UNPLUGGED,
        N_("I pulled them apart."),
    ),
    "follow": (
        N_("I followed each lead and wire to its end."),
        N_("I looked what it joins."),
        UNPLUGGED,
        N_("I gave one of them another place."),
    ),
    "look": (
        N_("I looked at what the photo cannot show."),
        N_("I changed one thing at a time."),
        N_("After each change I looked at the lights."),
    ),
}
"""How faults of one kind are found and mended, step by step."""
HOW: Mapping[str, str] = {
    **dict.fromkeys(("short-pressed-together", "short-bridge", "short-round-the-end"), "walk"),
    "short-over-the-wall": "walk",
    **dict.fromkeys(("led-backwards", "part-backwards"), "turn"),
    **dict.fromkeys(("legs-in-one-lump", "leg-out", "leg-in-insulator"), "touch"),
    "gap-in-lump": "gap",
    **dict.fromkeys(("too-many-in-a-row", "in-a-row"), "row"),
    **dict.fromkeys(("thin-wall", "weak-neck", "long-way"), "feel"),
    "near-touch": "near",
    **dict.fromkeys(("short-wire", "leads-touching", "leads-in-one-lump", "leads-swapped"), "follow"),
}
"""Faults that are not here are found by looking."""


def mended(before: Report, after: Report) -> tuple[FindingOut, ...]:
    """What was found at first and is gone in the end, the most important first."""
    left = Counter((one.code, tuple(one.parts)) for one in (*after.findings, *after.notes))
    gone = []
    for one in (*before.findings, *before.notes):
        left[one.code, tuple(one.parts)] -= 1
        if left[one.code, tuple(one.parts)] < 0:
            gone.append(one)
    return tuple(gone)


def learned(faults: Sequence[FindingOut], age: Age, most: int = MOST) -> tuple[str, ...]:
    """What mending these taught, each thing once."""
    told = [_sentences(one)[age] for one in faults if one.code in LEARNED]
    return tuple(map(translated, list(dict.fromkeys(told))[:most]))


def found_how(faults: Sequence[FindingOut]) -> tuple[str, ...]:
    """How the first of them was found and mended, step by step; nothing without one."""
    if not faults:
        return ()
    first = faults[0]
    way = "past" if _past_lights(first) else HOW.get(first.code, "look")
    return tuple(map(translated, FOUND[way]))


def _sentences(fault: FindingOut) -> Mapping[Age, str]:
    return ROUND_A_LIGHT if _past_lights(fault) else LEARNED[fault.code]


def _past_lights(fault: FindingOut) -> bool:
    """A short of some lights, not of the pack."""
    return fault.code.startswith("short-") and fault.level == "fix" and fault.code != "short-wire"
