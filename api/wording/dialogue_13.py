"""Thirteen and older, looking for what the photo cannot show: trade words, and what each check tells."""

from dataclasses import replace

from api.wording.dialogue_9_12 import DIALOGUE_9_12

DIALOGUE_13 = replace(
    DIALOGUE_9_12,
    ask={
        **DIALOGUE_9_12.ask,
        "turn": "Which LED would block if its legs had changed places?",
        "touch-beside-leads": "How could you test one LED apart from the rest of the circuit?",
        "look-underneath": "Which path for the current could a photo from above not show?",
        "swap-pack": "How would you find out whether the pack still gives its volts?",
        "pull-out": "Series or parallel: what will the other LEDs do when one is out?",
    },
    why={
        **DIALOGUE_9_12.why,
        "turn": ("An LED conducts one way only. Nine in ten dark ones are in backwards.",),
        "touch-beside-leads": (
            "With nothing else in the way, {part} shows whether it is the LED or its path.",
            "With nothing else in the way, it shows whether it is the LED or its path.",
        ),
        "look-underneath": ("Dough across underneath is a short that no photo from above shows.",),
        "swap-pack": ("Tired cells give way under load, and a pack that is off gives nothing.",),
        "press-in": ("A lead that only rests adds much resistance, and no photo shows it.",),
        "press-in:led": (
            "A leg of {part} that only rests adds much resistance, and no photo shows it.",
            "A leg that only rests adds much resistance, and no photo shows it.",
        ),
        "pull-out": ("In a row the others change, side by side they do not.",),
        "knead": (
            "Salt water carries the current, so dry dough resists. Lump {one} may be dry.",
            "Salt water carries the current, so dry dough resists.",
        ),
    },
    named={
        **DIALOGUE_9_12.named,
        "led-backwards": ("{part} may be reverse biased.", "This LED may be reverse biased."),
    },
    was={
        **DIALOGUE_9_12.was,
        "led-backwards": ("{part} was reverse biased.", "This LED was reverse biased."),
    },
    cure={
        **DIALOGUE_9_12.cure,
        "led-backwards": (
            "Turn {part} round, so that its anode is on the + side.",
            "Turn this LED round, so that its anode is on the + side.",
        ),
    },
    cannot_tell="No check by hand tells which one it is.",
)
