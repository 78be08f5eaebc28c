"""Thirteen and older: trade words, and Ohm's law with the numbers of this sculpture."""

from api.wording.ages_9_12 import AGES_9_12
from api.wording.sentences import Sentences

PATH = "Trace a path from + to - with a finger. Can it avoid every LED?"
LEG_TO_LEG = "Trace a path from one leg of a dark LED to the other. Does it stay in dough?"
BYPASS = "Trace a path past the dark LEDs with a finger. Does the dough go all the way?"
DEEP = "about 10\u00a0mm deep"
TO_THE_TABLE = "right down to the table"
BYPASSED = ("The current bypasses {parts}.", "The current bypasses an LED.")
ROUND_THE_PACK = (
    "Lump {lump} joins both leads: {share_A} takes the way round through about {way_ohm}. "
    "Ohm's law: {share_A} times {way_ohm} is {way_V}, of the {emf_V} of the pack.",
    "Lump {lump} joins both leads: {share_A} takes the way round through about {way_ohm}.",
    "Lump {lump} joins both leads: {share_A} of {pack_A} takes the way round.",
    "Lump {lump} joins both leads: {share_A} takes the way round.",
    "Lump {lump} joins both leads: the pack gives {pack_A}, nearly all of it for the way round.",
    "The pack gives {pack_A}, nearly all of it for the way round.",
    "Both leads are in lump {lump}: current takes the way of least resistance.",
)
ROUND_SOME = (
    "The way round takes {share_A} through about {way_ohm}: {share_A} times {way_ohm} is {way_V}. "
    "{led_A} is left for {parts}.",
    "The way round takes {share_A} through about {way_ohm}: {share_A} times {way_ohm} is {way_V}.",
    "The way round takes {share_A}; {led_A} is left for {parts}.",
    "The way round takes {share_A} past {parts}.",
    "{volts_V} stands across {parts}: too little for light.",
)

AGES_13 = Sentences(
    most_words=24,
    numbers=True,
    why={
        "short-pressed-together": ("Two lumps are pressed together.",),
        "short-pressed-together:lights": BYPASSED,
        "short-bridge": ("A strip of {dough} dough joins both leads.", "A strip of dough joins both leads."),
        "short-bridge:lights": ("A strip of dough bypasses {parts}.", "A strip of dough bypasses an LED."),
        "short-round-the-end": (
            "{dough} dough goes round the end of the wall.",
            "Dough goes round the end of the wall.",
        ),
        "short-round-the-end:lights": BYPASSED,
        "short-over-the-wall": ("{dough} dough breaks through the wall.", "Dough breaks through the wall."),
        "short-over-the-wall:lights": BYPASSED,
        "short-wire": (
            "The {part_kind} {part} shorts the pack.",
            "A {part_kind} shorts the pack.",
            "A wire shorts the pack.",
        ),
        "short-wire:lights": (
            "The {part_kind} {part} bypasses {crosses}.",
            "The {part_kind} {part} bypasses an LED.",
            "A wire bypasses an LED.",
        ),
        "led-backwards": ("{part} is reverse biased.", "An LED is reverse biased."),
        "legs-in-one-lump": (
            "Both ends of the {part_kind} are in one lump.",
            "Both legs of {part} are in one lump.",
            "Both legs of an LED are in one lump.",
        ),
        "leg-out": ("{entry} misses the dough.", "A leg or lead misses the dough."),
        "leg-in-insulator": ("{entry} is in insulating dough.", "A leg is in insulating dough."),
        "gap-in-lump": ("The circuit is open: a gap in the dough.",),
        "too-many-in-a-row": ("{row} share the pack in a row.", "Too many LEDs share the pack in a row."),
        "near-touch": ("Two lumps nearly touch.",),
        "thin-wall": ("The wall is thin here and may leak.",),
        "leads-touching": ("The two leads may touch.",),
        "leads-in-one-lump": ("Lump {lump} joins both leads.", "One lump joins both leads."),
        "led-without-dough": (
            "Nothing limits the current in {part}.",
            "Nothing limits the current in an LED.",
        ),
        "leads-swapped": ("The polarity of the pack is reversed.",),
        "seen-differs": ("{part} looks other than calculated.", "An LED looks other than calculated."),
        "colours-too-alike": ("{dough} and {other} look alike here.", "Two colours look alike here."),
        "switch-open": ("The switch {part} is open.", "The switch is open."),
        "part-backwards": ("The {part_kind} {part} is reverse biased.", "The buzzer is reverse biased."),
        "part-starved": (
            "The {part_kind} {part} gets too little current.",
            "One part gets too little current.",
        ),
        "long-way": ("The dough to {part} takes too many volts.", "Long, thin dough takes too many volts."),
        "in-a-row": ("{part} is in series with {crosses}.", "One LED is in series with another."),
        "weak-neck": ("Most of the current depends on one neck.",),
        "led-overloaded": ("{part} is above its safe current.", "An LED is above its safe current."),
    },
    ask={
        "short-pressed-together": PATH,
        "short-pressed-together:lights": BYPASS,
        "short-bridge": PATH,
        "short-bridge:lights": BYPASS,
        "short-round-the-end": PATH,
        "short-round-the-end:lights": BYPASS,
        "short-over-the-wall": PATH,
        "short-over-the-wall:lights": BYPASS,
        "short-wire": "Trace each wire and closed switch. Which lumps does it make into one?",
        "led-backwards": "Trace each long leg, the anode, through the dough. Does it reach +?",
        "legs-in-one-lump": LEG_TO_LEG,
        "leg-out": "Touch each leg and lead in turn. Does metal meet dough everywhere?",
        "leg-in-insulator": "Touch each leg and lead in turn. Which of them are in dough that conducts?",
        "gap-in-lump": "Trace the circuit from + with a finger. Where does it break?",
        "too-many-in-a-row": "Trace a path from + to - with a finger. How many LEDs share the volts?",
        "near-touch": "Push the sculpture a little. Could two lumps become one?",
        "thin-wall": "Run a finger along each wall. Is it equally thick all the way?",
        "leads-touching": "Follow both leads to their ends. What lies between their metal?",
        "leads-in-one-lump": PATH,
        "led-without-dough": "Trace the current from + to each LED. What limits it on the way?",
        "leads-swapped": "Trace every anode through the dough. Which lead do they all reach?",
        "seen-differs": "Lift the dough a little. What does a photo from above not show?",
        "colours-too-alike": "Point at each dough in the photo. Can you tell it from what lies beside it?",
        "switch-open": "Press each switch. What changes in the circuit?",
        "part-backwards": "Trace the red wire of each buzzer. Does it reach +?",
        "part-starved": "Touch each part that should hum or turn. Does it get enough current?",
        "long-way": "Trace the current to each LED. Which way has the most resistance?",
        "in-a-row": "Trace from each LED to + and to -. Does another LED lie on the way?",
        "weak-neck": "Feel along the dough. Which break would put out most LEDs?",
        "led-overloaded": "Shade each LED with a hand in turn. Which one carries the most current?",
    },
    look={
        **AGES_9_12.look,
        "short-pressed-together": (
            "Look where two lumps meet, close to {beside}: on the plan both are lump {lump}.",
            "Look where two lumps meet: on the plan both are lump {lump}.",
            "Look where two lumps meet.",
        ),
        "short-round-the-end": (
            "Look where the wall stops, close to {beside}: lump {lump} lies on both sides of it.",
            "Look where the wall stops: lump {lump} lies on both sides of it.",
            "Look where the wall stops.",
        ),
        "short-over-the-wall": (
            "Look along the wall, close to {beside}: lump {lump} lies on both sides of it.",
            "Look along the wall: lump {lump} lies on both sides of it.",
            "Look along the wall.",
        ),
        "led-backwards": (
            "Look at {part}: {volts_V} stands across it. Which leg is on the + side?",
            "Look at {part}: which leg is on the + side?",
            "Look at the dark LED: which leg is on the + side?",
        ),
        "legs-in-one-lump": (
            "Look at both ends of the {part_kind} {part}: {volts_V} is between them.",
            "Look at both ends of the {part_kind} {part}.",
            "Look at the two legs of {part}, both in lump {lump}.",
            "Look at the two legs of {part}.",
            "Look at the two legs of the dark LED.",
        ),
        "leg-out": (
            "Look at {entry}, {off_mm} off the dough.",
            "Look at {entry}.",
            "Look at each leg and lead.",
        ),
        "gap-in-lump": (
            "Look between {dough} and {other}: {gap_mm} of air.",
            "Look for {gap_mm} of air in the {dough} dough.",
            "Look for a gap in the dough.",
        ),
        "too-many-in-a-row": (
            "Look at {row}: the same current runs through all of them.",
            "Look at the row: the same current runs through all of it.",
        ),
        "thin-wall": (
            "Look where the wall is thinnest, {wall_mm}, close to {beside}.",
            "Look where the wall is thinnest, {wall_mm}.",
            "Look where the wall is thinnest.",
        ),
        "long-way": (
            "Look at the {long_mm} of {dough} dough on the way to {part}.",
            "Look at the {long_mm} of dough on the way.",
            "Look for a long, thin roll of dough.",
        ),
        "weak-neck": (
            "Look for the narrowest place of lump {lump}, {neck_mm}, close to {beside}.",
            "Look for the narrowest place of lump {lump}, {neck_mm}.",
            "Look for the narrowest place of the dough.",
        ),
        "led-overloaded": (
            "Look at {part} and at the pack: {emf_V} for one LED and little dough.",
            "Look at the pack: how many volts does it give?",
        ),
    },
    do={
        **AGES_9_12.do,
        "short-pressed-together": (
            f"Cut {{cut_mm}} along the line, {TO_THE_TABLE}.",
            f"Cut along the line, {TO_THE_TABLE}.",
        ),
        "short-bridge": (
            f"Cut the {{cut_mm}} strip, {TO_THE_TABLE}, and take it away.",
            f"Cut the strip, {TO_THE_TABLE}, and take it away.",
        ),
        "short-round-the-end": (
            f"Cut the {{cut_mm}} neck, {TO_THE_TABLE}.",
            f"Cut the neck, {TO_THE_TABLE}.",
        ),
        "short-over-the-wall": (
            f"Cut the {{cut_mm}} neck, {TO_THE_TABLE}, and close the wall.",
            f"Cut the neck, {TO_THE_TABLE}, and close the wall.",
        ),
        "led-backwards": (
            "Turn {part}, so that its cathode comes into lump {to} and its anode on the + side.",
            "Turn {part}, so that its anode is on the + side.",
            "Turn the LED, so that its anode is on the + side.",
        ),
        "legs-in-one-lump": (
            f"Move one end of the {{part_kind}} {{part}} from lump {{lump}} into the other, {DEEP}.",
            f"Move one end of the {{part_kind}} {{part}} into the other lump, {DEEP}.",
            f"Move one leg of {{part}} from lump {{lump}} into the other, {DEEP}.",
            f"Move one leg of {{part}} into the other lump, {DEEP}.",
            f"Move one leg into the other lump, {DEEP}.",
        ),
        "leg-out": (
            f"Press {{entry}} into the {{near}} dough, {{off_mm}} away and {DEEP}.",
            f"Press {{entry}} into the dough, {DEEP}.",
            f"Press it into the dough, {DEEP}.",
        ),
        "leg-in-insulator": (
            f"Move {{entry}} into the {{near}} dough, {{off_mm}} away and {DEEP}.",
            f"Move {{entry}} into conductive dough, {DEEP}.",
            f"Move it into conductive dough, {DEEP}.",
        ),
        "too-many-in-a-row": (
            "Set {row} side by side, each from the + lump to the - lump.",
            "Set the LEDs side by side, each from the + lump to the - lump.",
        ),
        "leads-in-one-lump": ("Unplug the pack and move one lead into another lump, or cut between them.",),
        "led-without-dough": (
            "Unplug the pack and put dough between {part} and both leads.",
            "Unplug the pack and put dough between the LED and both leads.",
        ),
        "leads-swapped": (f"Swap the two leads, {DEEP}.",),
        "thin-wall": (f"Press more wall dough on here, {TO_THE_TABLE}.",),
        "weak-neck": (f"Press more dough onto the neck, {TO_THE_TABLE}.",),
        "long-way": ("Roll the dough shorter and thicker: half the length has half the resistance.",),
        "in-a-row": (
            "Set {part} and {crosses} side by side, each from the + lump to the - lump.",
            "Set the two LEDs side by side, each from the + lump to the - lump.",
        ),
        "led-overloaded": ("Unplug the pack and take one with fewer cells, or add a resistor in the way.",),
    },
    sums={
        "short-pressed-together": ROUND_THE_PACK,
        "short-pressed-together:lights": ROUND_SOME,
        "short-bridge": ROUND_THE_PACK,
        "short-bridge:lights": ROUND_SOME,
        "short-round-the-end": ROUND_THE_PACK,
        "short-round-the-end:lights": ROUND_SOME,
        "short-over-the-wall": ROUND_THE_PACK,
        "short-over-the-wall:lights": ROUND_SOME,
        "short-wire": (
            "The {part_kind} takes {share_A} of {pack_A}: metal has next to no resistance.",
            "It takes {share_A}: metal has next to no resistance.",
            "The pack gives {pack_A}: metal has next to no resistance.",
        ),
        "short-wire:lights": (
            "The {part_kind} takes {share_A} and leaves {led_A}: metal has next to no resistance.",
            "It takes {share_A}: metal has next to no resistance.",
        ),
        "led-backwards": (
            "{volts_V} stands across it the other way round, and a diode blocks it: {led_A} flows.",
            "{volts_V} stands across it the other way round, and a diode blocks.",
            "A diode blocks that way, whatever the {emf_V} of the pack.",
        ),
        "legs-in-one-lump": (
            "The dough leaves {volts_V} between its ends: too little for the {part_kind}.",
            "The dough leaves {volts_V} between its legs, and an LED wants 2 to 3\u00a0V: {led_A} flows.",
            "The dough leaves {volts_V} between its legs, and an LED wants 2 to 3\u00a0V.",
            "The dough is the easier way: {led_A} is left for the LED.",
        ),
        "leg-out": ("Air insulates: {off_mm} of it stops the {emf_V} of the pack.",),
        "leg-in-insulator": (
            "Insulating dough has far more resistance: it lets {leak_A} through.",
            "Insulating dough has far more resistance: {led_A} is left.",
        ),
        "gap-in-lump": ("Air insulates: {gap_mm} of it stops the {emf_V} of the pack.",),
        "too-many-in-a-row": (
            "{row} share {emf_V}: each has about {volts_V}, and every metal contact takes its part; "
            "{led_A} is left.",
            "{row} share {emf_V}: each wants 2 to 3\u00a0V, and every metal contact takes its part; "
            "{led_A} is left.",
            "{row} share {emf_V}: each wants 2 to 3\u00a0V, and every metal contact takes its part.",
            "{count} LEDs share {emf_V}: each wants 2 to 3\u00a0V, and every metal contact takes its part.",
        ),
        "near-touch": ("If they meet, {emf_V} finds a way round the LEDs.",),
        "thin-wall": (
            "{leak_A} leaks through {wall_mm} of wall: half the wall would leak twice as much.",
            "{leak_A} leaks through the wall already.",
        ),
        "leads-touching": (
            "Metal on metal has next to no resistance: {emf_V} then drives amperes, and heat.",
        ),
        "leads-in-one-lump": (
            "The pack gives {pack_A} at {emf_V}, past every LED.",
            "The pack gives {pack_A}, past every LED.",
        ),
        "led-without-dough": (
            "{led_A} then flows through it, and {safe_A} is safe.",
            "Dough is the resistor here: without it {emf_V} drives far more than the safe {safe_A}.",
            "Dough is the resistor here: without it {emf_V} drives too much.",
        ),
        "leads-swapped": (
            "A diode conducts one way: {emf_V} the other way round drives {led_A}.",
            "A diode conducts one way, whatever the {emf_V} of the pack.",
        ),
        "seen-differs": (
            "The sums give {led_A}, so {state}, but it is seen {seen}.",
            "The sums say {state}, but it is seen {seen}.",
        ),
        "colours-too-alike": ("The two colours differ by {delta_e} (CIEDE2000).",),
        "switch-open": (
            "{volts_V} stands across its open contacts, and no current flows.",
            "Air between its contacts stops the {emf_V} of the pack.",
        ),
        "part-backwards": (
            "{volts_V} stands across it the other way round, and it lets current pass one way.",
            "It lets current pass one way, whatever the {emf_V} of the pack.",
        ),
        "part-starved": (
            "It gets {led_A} at {volts_V} and starts at {works_A}.",
            "It gets {led_A} and starts at {works_A}.",
            "It starts at {works_A}.",
        ),
        "long-way": (
            "{long_mm} of dough, about {way_ohm}, takes {drop_V} of {emf_V}; {led_A} is left for {part}.",
            "{long_mm} of dough takes {drop_V} of {emf_V}; {led_A} is left for {part}.",
            "{long_mm} of dough takes {drop_V}; {led_A} is left for {part}.",
            "{long_mm} of dough takes {drop_V}.",
            "The dough takes {drop_V}.",
        ),
        "in-a-row": (
            "One current of {led_A} runs through both, and they share {emf_V}.",
            "One current of {led_A} runs through both.",
            "They share the {emf_V} of the pack.",
        ),
        "weak-neck": (
            "{share_A} of {pack_A} goes through {neck_mm} of dough. LEDs that hang on it: {count}.",
            "{pack_A} goes through {neck_mm} of dough. LEDs that hang on it: {count}.",
            "{share_A} goes through {neck_mm} of dough.",
            "{pack_A} goes through {neck_mm} of dough.",
            "LEDs that hang on it: {count}.",
        ),
        "led-overloaded": (
            "{part} carries {led_A} at {volts_V}; {safe_A} is safe.",
            "{part} carries {led_A}; {safe_A} is safe.",
            "{part} carries {led_A}.",
        ),
    },
    step=AGES_9_12.step,
)
