"""Single words that may fill a slot: names of doughs, states, kinds of parts. Their context is `word`."""

DOUGHS = (
    *("red", "coral", "rose", "pink", "orange", "amber", "yellow", "lime", "green", "mint", "teal", "sky"),
    *("blue", "navy", "violet", "lilac", "plum", "brown", "sand", "cream", "white", "grey", "black"),
)
"""The names that the page suggests for a dough; a language may give them the form that goes with 'dough'."""
OF_SAMPLES = ("brick", "butter", "chalk", "ice", "leaf", "moss", "pumpkin", "rust")
"""The other doughs of the samples."""
WORDS = (
    *DOUGHS,
    *OF_SAMPLES,
    *("table", "the table", "paper"),
    *("bright", "dim", "off"),
    *("wire", "switch", "resistor", "buzzer", "motor"),
    *("stroke", "cut", "join", "begins", "ends", "first", "second", "LEDs", "parts"),
    *("conductive", "insulating"),
)
