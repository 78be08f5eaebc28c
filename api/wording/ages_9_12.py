"""Ages 9 to 12: at most 14 words a sentence, sizes in mm."""

from api.wording.sentences import Sentences

WALK = "Put a finger on the red lead. Can you walk to the black lead without crossing a light?"
LEG_TO_LEG = "Walk from one leg of a dark light to the other. Did you leave the dough?"
PAST = "Walk past the dark lights with a finger. Does the dough go all the way?"
KEEP_APART = "Keep the two sides apart."
DEEP = "Push it in about 10\u00a0mm deep."
TO_THE_TABLE = "right down to the table"

AGES_9_12 = Sentences(
    most_words=14,
    numbers=True,
    why={
        "short-pressed-together": ("Two lumps are pressed together.",),
        "short-pressed-together:lights": (
            "The current goes round {parts}.",
            "The current goes round a light.",
        ),
        "short-bridge": ("A strip of {dough} dough joins both sides.", "A strip of dough joins both sides."),
        "short-bridge:lights": (
            "A strip of dough leads round {parts}.",
            "A strip of dough leads round a light.",
        ),
        "short-round-the-end": (
            "{dough} dough goes round the end of the wall.",
            "Dough goes round the end of the wall.",
        ),
        "short-round-the-end:lights": (
            "The current goes round {parts}.",
            "The current goes round a light.",
        ),
        "short-over-the-wall": (
            "{dough} dough breaks through the wall.",
            "Dough breaks through the wall.",
        ),
        "short-over-the-wall:lights": (
            "The current goes round {parts}.",
            "The current goes round a light.",
        ),
        "short-wire": (
            "The {part_kind} {part} joins both leads.",
            "A {part_kind} joins both leads.",
            "A wire joins both leads.",
        ),
        "short-wire:lights": (
            "The {part_kind} {part} leads round {crosses}.",
            "The {part_kind} {part} leads round a light.",
            "A wire leads round a light.",
        ),
        "led-backwards": ("{part} is in backwards.", "A light is in backwards."),
        "legs-in-one-lump": (
            "Both ends of the {part_kind} are in one lump.",
            "Both legs of {part} are in one lump.",
            "Both legs are in one lump.",
        ),
        "leg-out": ("{entry} misses the dough.", "A leg or lead misses the dough."),
        "leg-in-insulator": ("{entry} is in insulating dough.", "A leg is in insulating dough."),
        "gap-in-lump": ("There is a gap in the dough.",),
        "too-many-in-a-row": ("{row} share the pack in a row.", "Too many lights share one row."),
        "near-touch": ("Two lumps nearly touch.",),
        "thin-wall": ("The wall is thin here.",),
        "leads-touching": ("The two leads may touch.",),
        "leads-in-one-lump": ("Both leads are in one lump.",),
        "led-without-dough": ("{part} sits straight on the leads.", "A light sits straight on the leads."),
        "leads-swapped": ("Red and black lead are swapped.",),
        "seen-differs": ("{part} looks other than it should.", "A light looks other than it should."),
        "colours-too-alike": ("{dough} and {other} look alike here.", "Two colours look alike here."),
        "switch-open": ("The switch {part} is open.", "The switch is open."),
        "part-backwards": ("The {part_kind} {part} is in backwards.", "The buzzer is in backwards."),
        "part-starved": (
            "The {part_kind} {part} gets too little current.",
            "One part gets too little current.",
        ),
        "long-way": ("The dough to {part} is long and thin.", "The dough here is long and thin."),
        "in-a-row": ("{part} gets what {crosses} lets through.", "One light waits behind another."),
        "weak-neck": ("Most lights hang on one thin place.",),
        "led-overloaded": ("{part} gets too much current.", "A light gets too much current."),
    },
    ask={
        "short-pressed-together": WALK,
        "short-pressed-together:lights": PAST,
        "short-bridge": WALK,
        "short-bridge:lights": PAST,
        "short-round-the-end": WALK,
        "short-round-the-end:lights": PAST,
        "short-over-the-wall": WALK,
        "short-over-the-wall:lights": PAST,
        "short-wire": "Follow each wire and switch from end to end. Which lumps does it join?",
        "led-backwards": "Follow the long leg of each dark light. Does it reach the red lead?",
        "legs-in-one-lump": LEG_TO_LEG,
        "leg-out": "Touch each leg and each lead in turn. Is every one inside dough?",
        "leg-in-insulator": "Touch each leg and each lead. Which dough is each one in?",
        "gap-in-lump": "Walk from the red lead to each light. Does the dough stop on the way?",
        "too-many-in-a-row": "Walk from red to black. How many lights do you cross?",
        "near-touch": "Push the sculpture a little. Could two lumps touch?",
        "thin-wall": "Run a finger along each wall. Is it equally thick all the way?",
        "leads-touching": "Follow both leads to their ends. Do the ends touch?",
        "leads-in-one-lump": WALK,
        "led-without-dough": "Follow each lead to its end. Which dough comes before the first light?",
        "leads-swapped": "Follow the long leg of each light. Which lead do they all reach?",
        "seen-differs": "Lift the dough a little. What do you see underneath?",
        "colours-too-alike": "Point at each dough in the photo. Can you tell it from what lies beside it?",
        "switch-open": "Press each switch. Does any light change?",
        "part-backwards": "Follow the red wire of each buzzer. Does it reach the red lead?",
        "part-starved": "Touch each part that should hum or turn. How strong is it?",
        "long-way": "Walk from the red lead to each light. Which way through dough is longest?",
        "in-a-row": "Walk from each light to both leads. Does another light stand in the way?",
        "weak-neck": "Feel along the dough. Where would it break first?",
        "led-overloaded": "Hold your hand over each light in turn. Which one glows strongest?",
    },
    look={
        "short-pressed-together": (
            "Look where two lumps meet, close to {beside}.",
            "Look where two lumps meet.",
        ),
        "short-bridge": (
            "Look for a thin strip between two lumps, close to {beside}.",
            "Look for a thin strip between two lumps.",
        ),
        "short-round-the-end": (
            "Look where the wall stops, close to {beside}.",
            "Look where the wall stops.",
        ),
        "short-over-the-wall": ("Look along the wall, close to {beside}.", "Look along the wall."),
        "short-wire": (
            "Look where the two ends of the {part_kind} {part} go in.",
            "Look where the two ends of the wire go in.",
        ),
        "led-backwards": (
            "Look at the legs of {part}: which one is longer?",
            "Look at the legs of the dark light: which one is longer?",
        ),
        "legs-in-one-lump": (
            "Look at both ends of the {part_kind} {part}.",
            "Look at the two legs of {part}.",
            "Look at the two legs of the dark light.",
        ),
        "leg-out": ("Look at {entry}.", "Look at each leg and lead."),
        "leg-in-insulator": (
            "Look at {entry}, in {dough} dough.",
            "Look at {entry}.",
            "Look which dough each leg is in.",
        ),
        "gap-in-lump": (
            "Look between {dough} and {other}.",
            "Look for a gap in the {dough} dough.",
            "Look for a gap in the dough.",
        ),
        "too-many-in-a-row": ("Look at {row}: one feeds the next.", "Look at the row: one feeds the next."),
        "near-touch": (
            "Look between {dough} and {other}.",
            "Look where {dough} dough nearly meets {dough} dough.",
            "Look between the two lumps.",
        ),
        "thin-wall": (
            "Look where the wall is thinnest, close to {beside}.",
            "Look where the wall is thinnest.",
        ),
        "leads-touching": ("Look at the two leads.",),
        "leads-in-one-lump": ("Look at the dough that both leads are in.",),
        "led-without-dough": ("Look at the legs of {part}.", "Look at the legs of the light."),
        "leads-swapped": ("Look at both leads and at the long legs.",),
        "seen-differs": ("Look under the dough, at the leads and at the pack.",),
        "colours-too-alike": (
            "Look where {dough} ends and {other} begins.",
            "Look where one colour ends and the next begins.",
        ),
        "switch-open": (
            "Look at the switch {part}: do its two contacts meet?",
            "Look at the switch: do its two contacts meet?",
        ),
        "part-backwards": (
            "Look at the two wires of the {part_kind} {part}.",
            "Look at the two wires of the buzzer.",
        ),
        "part-starved": (
            "Look how much dough lies between the {part_kind} {part} and the pack.",
            "Look how much dough lies between it and the pack.",
        ),
        "long-way": (
            "Look at the long roll of {dough} dough, close to {beside}.",
            "Look at the long roll of {dough} dough.",
            "Look for a long, thin roll of dough.",
        ),
        "in-a-row": (
            "Look at {part} and at {crosses} before it.",
            "Look at this light and the one before it.",
        ),
        "weak-neck": (
            "Look for the thinnest place in the {dough} dough, close to {beside}.",
            "Look for the thinnest place in the {dough} dough.",
            "Look for the thinnest place in the dough.",
        ),
        "led-overloaded": (
            "Look at {part} and at the pack: how many cells has it?",
            "Look at the pack: how many cells has it?",
        ),
    },
    do={
        "short-pressed-together": (
            f"Cut here, {{cut_mm}} long, {TO_THE_TABLE}. {KEEP_APART}",
            f"Cut here, {TO_THE_TABLE}. {KEEP_APART}",
        ),
        "short-bridge": (
            f"Take the strip away: cut here, {{cut_mm}} long, {TO_THE_TABLE}.",
            f"Take the strip away: cut here, {TO_THE_TABLE}.",
        ),
        "short-round-the-end": (
            f"Cut here, {{cut_mm}} long, {TO_THE_TABLE}. {KEEP_APART}",
            f"Cut here, {TO_THE_TABLE}. {KEEP_APART}",
        ),
        "short-over-the-wall": (
            f"Cut here, {{cut_mm}} long, {TO_THE_TABLE}, and close the wall.",
            f"Cut here, {TO_THE_TABLE}, and close the wall.",
        ),
        "short-wire": (
            "Pull one end of the {part_kind} {part} out of the dough.",
            "Pull one end of the wire out of the dough.",
        ),
        "led-backwards": (
            "Turn {part} round, so that its legs change places.",
            "Turn the light round, so that its legs change places.",
        ),
        "legs-in-one-lump": (
            f"Move one end of the {{part_kind}} {{part}} to the other lump. {DEEP}",
            f"Move one leg of {{part}} to the other lump. {DEEP}",
            f"Move one leg to the other lump. {DEEP}",
        ),
        "leg-out": (
            f"Press {{entry}} into the {{near}} dough, {{off_mm}} away. {DEEP}",
            f"Press {{entry}} into the dough. {DEEP}",
            f"Press it into the dough. {DEEP}",
        ),
        "leg-in-insulator": (
            f"Move {{entry}} into the {{near}} dough, {{off_mm}} away. {DEEP}",
            f"Move {{entry}} into conductive dough. {DEEP}",
            f"Move it into conductive dough. {DEEP}",
        ),
        "gap-in-lump": (
            f"Press the dough together over the {{gap_mm}} gap, {TO_THE_TABLE}.",
            f"Press the dough together over the gap, {TO_THE_TABLE}.",
        ),
        "too-many-in-a-row": (
            "Set {row} side by side. Each goes from the red lump to the black lump.",
            "Set the lights side by side. Each goes from the red lump to the black lump.",
        ),
        "near-touch": (
            "Pull the two lumps apart: they are {gap_mm} from each other. A finger should fit between.",
            "Pull the two lumps apart. A finger should fit between.",
        ),
        "thin-wall": (
            f"Press more wall dough on here, {TO_THE_TABLE}. The wall is {{wall_mm}} thick.",
            f"Press more wall dough on here, {TO_THE_TABLE}.",
        ),
        "leads-touching": ("Unplug the pack and pull the two leads apart.",),
        "leads-in-one-lump": ("Unplug the pack and move one lead into another lump. Or cut between them.",),
        "led-without-dough": (
            "Unplug the pack and put dough between {part} and both leads.",
            "Unplug the pack and put dough between the light and both leads.",
        ),
        "leads-swapped": ("Swap the two leads. Push both in about 10\u00a0mm deep.",),
        "seen-differs": (
            "Check what the photo cannot show. For {part} the photo looks right.",
            "Check what the photo cannot show.",
        ),
        "colours-too-alike": (
            "Knead more colour into one of them. Or take the photo by a window, in daylight.",
        ),
        "colours-too-alike:table": (
            "Put a sheet of another colour under the dough. Or take the photo by a window, in daylight.",
        ),
        "switch-open": ("Close the switch {part}.", "Close the switch."),
        "part-backwards": (
            "Swap the two wires of the {part_kind} {part}: red towards the red lead.",
            "Swap the two wires of the buzzer: red towards the red lead.",
        ),
        "part-starved": (
            "Move the {part_kind} {part} closer to both leads. It may need more than dough lets through.",
            "Move it closer to both leads. It may need more than dough lets through.",
        ),
        "long-way": (
            "Roll the dough shorter and thicker: the way is {long_mm} long. Or bring {part} nearer.",
            "Roll the dough shorter and thicker: the way is {long_mm} long.",
            "Roll the dough shorter and thicker. Or bring the light nearer.",
        ),
        "in-a-row": (
            "Set {part} and {crosses} side by side. Each goes from red lump to black lump.",
            "Set the two lights side by side. Each goes from red lump to black lump.",
        ),
        "weak-neck": (
            f"Press more dough onto the neck, {TO_THE_TABLE}. The neck is {{neck_mm}} wide.",
            f"Press more dough onto the neck, {TO_THE_TABLE}.",
        ),
        "led-overloaded": (
            "Unplug the pack and take one with fewer cells. {part} may burn out.",
            "Unplug the pack and take one with fewer cells. The light may burn out.",
        ),
    },
    step={
        "turn": ("Turn {part} round.", "Turn the light round."),
        "swap-leads": ("Swap the two leads.",),
        "cut": (f"Cut here, {{cut_mm}} long, {TO_THE_TABLE}.", f"Cut here, {TO_THE_TABLE}."),
        "move": (
            "Move {entry} into the {dough} dough here.",
            "Move {entry} into the dough here.",
            "Move it into the dough here.",
        ),
        "both-legs": (
            "Set {part} here. Long leg in the {high}, short leg in the {low}.",
            "Set {part} here, one leg in each lump.",
            "Set the light here, one leg in each lump.",
        ),
        "join": (
            "Press the dough together across the gap of {gap_mm}.",
            "Press the dough together across the gap.",
        ),
        "press-in": (
            "Press {entry} in, about 10\u00a0mm deep.",
            "Press all legs and leads in, about 10\u00a0mm deep.",
        ),
        "thicken-wall": (f"Press more wall dough on here, {TO_THE_TABLE}.",),
        "look-underneath": ("Lift the dough and look underneath.",),
        "swap-pack": ("Try another pack.",),
        "swap-led": ("Try another LED in place of {part}.", "Try another LED here."),
        "take-out": ("Pull one end of {part} out of the dough.", "Pull one end of it out of the dough."),
        "close": ("Close the switch {part}.", "Close the switch."),
    },
)
