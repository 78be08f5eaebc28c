"""Ages 9 to 12, looking for what the photo cannot show: at most 14 words a sentence, sizes in mm."""

from api.wording.sentences import Dialogue

UNPLUG, PLUG_IN = "Unplug the pack.", "Plug it in again and look."
DEEP = "about 10\u00a0mm deep"

DIALOGUE_9_12 = Dialogue(
    ask={
        "turn": "Could a light be in backwards? How would you find out?",
        "touch-beside-leads": "Does a dark light still work? How would you test it?",
        "look-underneath": "The photo looks from above. What could it not see?",
        "swap-pack": "Is the pack awake? How would you find out?",
        "press-in": "Are both leads deep in the dough?",
        "press-in:led": "Are both legs of every light deep in the dough?",
        "pull-out": "What will the others do when one light is out?",
        "pinch-apart": "Do two lumps touch that should not?",
        "press-together": "Do all lumps that should touch really touch?",
        "swap-led": "Would another light shine in its place?",
        "knead": "Is every lump soft and wet?",
    },
    why={
        "turn": ("Nine in ten dark lights are in backwards.",),
        "touch-beside-leads": (
            "{part} may be worn out, or its way may be broken.",
            "This light may be worn out, or its way may be broken.",
        ),
        "look-underneath": ("A photo from above cannot show what lies underneath.",),
        "swap-pack": ("A tired pack, or one switched off, looks like any other.",),
        "press-in": ("The photo cannot show a lead that only rests on the dough.",),
        "press-in:led": (
            "The photo cannot show a loose leg of {part}.",
            "The photo cannot show a loose leg.",
        ),
        "pull-out": ("What the others do shows which way the current goes.",),
        "pinch-apart": (
            "{one} and {two} nearly touch here. They may be joined.",
            "Two lumps nearly touch here. They may be joined.",
        ),
        "press-together": (
            "The photo cannot tell whether {one} and {two} touch here.",
            "The photo cannot tell whether the dough touches here.",
        ),
        "swap-led": ("{part} may be worn out.", "This light may be worn out."),
        "knead": (
            "Dry dough carries little current. Lump {one} may be dry.",
            "Dry dough carries little current.",
        ),
    },
    do={
        "turn": (
            "Turn {part} round and look. If nothing changes, turn it back.",
            "Turn this light round and look. If nothing changes, turn it back.",
        ),
        "touch-beside-leads": (
            "Pull {part} out. Touch its long leg to the dough beside the red lead. "
            "Touch its short leg to the dough beside the black lead. "
            "Touch dough only, never the metal of a lead.",
            "Pull this light out. Touch its long leg to the dough beside the red lead. "
            "Touch its short leg to the dough beside the black lead. "
            "Touch dough only, never the metal of a lead.",
        ),
        "look-underneath": (
            f"{UNPLUG} Lift the dough and look underneath. If dough goes across, part it. {PLUG_IN}",
        ),
        "swap-pack": ("Put another pack in, with fresh cells, switched on.",),
        "press-in": (f"Press both leads in, {DEEP}. Keep them apart.",),
        "press-in:led": (f"Press both legs of {{part}} in, {DEEP}.", f"Press both legs in, {DEEP}."),
        "pull-out": (
            "Pull {part} out and watch the others. Put it back the same way.",
            "Pull this light out and watch the others. Put it back the same way.",
        ),
        "pinch-apart": (
            f"{UNPLUG} Pinch {{one}} and {{two}} apart here. {PLUG_IN}",
            f"{UNPLUG} Pinch the two lumps apart here. {PLUG_IN}",
        ),
        "press-together": (
            f"{UNPLUG} Press {{one}} and {{two}} together here. {PLUG_IN}",
            f"{UNPLUG} Press the dough together here. {PLUG_IN}",
        ),
        "swap-led": (
            "Put another LED into the same holes as {part}, the same way round.",
            "Put another LED into the same holes, the same way round.",
        ),
        "knead": (
            f"{UNPLUG} Wet lump {{one}} a little and knead it. {PLUG_IN}",
            f"{UNPLUG} Wet this lump a little and knead it. {PLUG_IN}",
        ),
    },
    done={
        "turn": ("{part} turned round", "light turned round"),
        "touch-beside-leads": ("{part} tried beside the leads", "light tried beside the leads"),
        "look-underneath": ("looked underneath",),
        "swap-pack": ("pack swapped",),
        "press-in": ("leads pressed in",),
        "press-in:led": ("legs of {part} pressed in", "legs pressed in"),
        "pull-out": ("{part} pulled out", "light pulled out"),
        "pinch-apart": ("{one} and {two} pinched apart", "lumps pinched apart"),
        "press-together": ("{one} and {two} pressed together", "dough pressed together"),
        "swap-led": ("{part} swapped", "light swapped"),
        "knead": ("lump {one} kneaded", "lump kneaded"),
    },
    answer={
        "all": "Every light is on",
        "lights": "More light, but not all",
        "same": "No change",
        "bright": "It shines bright",
        "dim": "It glows a little",
        "dark": "It stays dark",
        "look-underneath:all": "Parted it: all lights on",
        "across": "Parted it: some stay dark",
        "nothing": "Nothing there",
        "change": "The others change",
        "pull-out:same": "The others stay the same",
        "unsure": "I cannot tell",
    },
    cause={
        "led-backwards": ("{part} in backwards", "a light in backwards"),
        "led-dead": ("{part} worn out", "a worn-out light"),
        "leg-loose": ("a loose leg of {part}", "a loose leg"),
        "lead-loose": ("a loose lead",),
        "pack-flat": ("a tired pack, or off",),
        "short-underneath": ("a short underneath, {one} to {two}", "a short underneath"),
        "contact-open": ("a gap between {one} and {two}", "a gap in lump {one}", "a hidden gap"),
        "contact-closed": ("{one} and {two} touching", "two lumps touching"),
        "dough-dry": ("lump {one} too dry", "a lump too dry"),
    },
    named={
        "led-backwards": ("{part} may be in backwards.", "This light may be in backwards."),
        "led-dead": ("{part} may be worn out.", "This light may be worn out."),
        "leg-loose": ("A leg of {part} may be loose.", "A leg of this light may be loose."),
        "lead-loose": ("A lead may be loose.",),
        "pack-flat": ("The pack may be tired, or switched off.",),
        "short-underneath": ("{one} and {two} may be joined underneath.", "There may be a short underneath."),
        "contact-open": (
            "There may be a gap between {one} and {two}.",
            "There may be a gap in lump {one}.",
            "There may be a gap here.",
        ),
        "contact-closed": ("{one} and {two} may touch here.", "Two lumps may touch here."),
        "dough-dry": ("Lump {one} may be too dry.", "This lump may be too dry."),
    },
    was={
        "led-backwards": ("{part} was in backwards.", "This light was in backwards."),
        "led-dead": ("The old {part} was worn out.", "The old light was worn out."),
        "leg-loose": ("A leg of {part} was loose.", "A leg was loose."),
        "lead-loose": ("A lead was loose.",),
        "pack-flat": ("The other pack was tired, or off.",),
        "short-underneath": ("{one} and {two} were joined underneath.", "There was a short underneath."),
        "contact-open": ("There was a gap between {one} and {two}.", "There was a gap here."),
        "contact-closed": ("{one} and {two} touched here.", "Two lumps touched here."),
        "dough-dry": ("Lump {one} was too dry.", "This lump was too dry."),
    },
    cure={
        "led-backwards": (
            "Turn {part} round, so that its legs change places.",
            "Turn this light round, so that its legs change places.",
        ),
        "led-dead": (
            "Put another LED in place of {part}, its long leg on the same side.",
            "Put another LED here, its long leg on the same side.",
        ),
        "leg-loose": (f"Press both legs of {{part}} in, {DEEP}.", f"Press both legs in, {DEEP}."),
        "lead-loose": (f"Press both leads in, {DEEP}. Keep them apart.",),
        "pack-flat": ("Switch the pack on, or put fresh cells in.",),
        "short-underneath": (
            f"{UNPLUG} Lift the dough and part {{one}} from {{two}} underneath.",
            f"{UNPLUG} Lift the dough and part it underneath.",
        ),
        "contact-open": (f"{UNPLUG} Press the dough together here, right down to the table.",),
        "contact-closed": (f"{UNPLUG} Cut here, right down to the table. Keep the sides apart.",),
        "dough-dry": (
            f"{UNPLUG} Wet lump {{one}} a little and knead it, or take fresh dough.",
            f"{UNPLUG} Wet this lump a little and knead it, or take fresh dough.",
        ),
    },
    leave="Leave it like this. Take a new photo if a light is still dark.",
    worked="Every light is on.",
    worked_do="Leave it like this, and remember what it was.",
    cannot_tell="Bare hands cannot tell which one it is.",
    cannot_tell_do="Mend the likeliest first, then look again.",
    untold="First say which lights are on: that spares checks.",
)
