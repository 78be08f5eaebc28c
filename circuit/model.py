"""The words of `circuit`: the sculpture that goes in, and what is found out about it.

Notation: R, C grid cells (rows, columns). Points are (x, y) in mm, origin at the top left
corner of the grid. Amperes, volts and ohms unless a name says otherwise.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Point = tuple[float, float]
State = Literal["bright", "dim", "off"]
Level = Literal["stop", "fix", "watch"]
Action = Literal["turn", "swap-leads", "cut", "move", "join", "press-in", "thicken-wall",
                 "look-underneath", "swap-pack", "swap-led", "take-out", "close"]  # fmt: skip
CheckAction = Literal["turn", "touch-beside-leads", "look-underneath", "swap-pack", "press-in", "pull-out",
                      "pinch-apart", "press-together", "swap-led", "knead"]  # fmt: skip
CauseCode = Literal["led-backwards", "led-dead", "leg-loose", "lead-loose", "pack-flat", "short-underneath",
                    "contact-open", "contact-closed", "dough-dry"]  # fmt: skip
Answer = Literal["all", "lights", "same", "bright", "dim", "dark", "across", "nothing", "change", "unsure"]
PackKind = Literal["cells", "block"]
PartKind = Literal["wire", "switch", "resistor", "buzzer", "motor"]


@dataclass(frozen=True)
class Dough:
    """One dough: resistivity [ohm m] and height [mm] of what is made of it."""

    name: str
    conductive: bool
    resistivity_ohm_m: float
    thickness_mm: float


@dataclass(frozen=True)
class Diode:
    """Shockley diode with series resistance: saturation current [A], ideality, series resistance [ohm]."""

    is_A: float
    n: float
    rs_ohm: float


@dataclass(frozen=True)
class Electrode:
    """What metal in dough costs.

    `leg_ohm`, `lead_ohm`: contact resistances. `drop_n`, `drop_i0_A`: the law
    V = drop_n V_T asinh(I / 2 drop_i0_A) at every entry; `drop_i0_A` None means no drop.
    """

    leg_ohm: float
    lead_ohm: float
    drop_n: float
    drop_i0_A: float | None


@dataclass(frozen=True)
class Pack:
    """Battery pack: number of cells, EMF [V] and internal resistance [ohm] of all together.

    A `block` is a 9 V battery, six small cells in one case.
    """

    cells: int
    emf_V: float
    internal_ohm: float
    kind: PackKind = "cells"


@dataclass(frozen=True)
class Led:
    """An LED as entered; `safe_A`, `safe_W`: its greatest current and power, `seen`: how it looks."""

    id: str
    colour: str
    diode: Diode
    safe_A: float
    seen: State | None = None
    safe_W: float = 0.1


@dataclass(frozen=True)
class Part:
    """A part other than an LED, between the entries `ID.a` and `ID.b`.

    `one_way`: current passes only from a (its red wire) to b. An open switch (`closed` False) passes none.
    It works from `works_A` upwards; 0 for what has nothing to show.
    """

    id: str
    kind: PartKind
    ohm: float
    works_A: float = 0.0
    one_way: bool = False
    closed: bool = True


@dataclass(frozen=True)
class Brightness:
    """Least current [A] at which an LED counts as dim, and as bright."""

    dim_A: float
    bright_A: float

    def state(self, current_A: float) -> State:
        """The state of an LED at this current."""
        return "bright" if current_A >= self.bright_A else "dim" if current_A >= self.dim_A else "off"


@dataclass(frozen=True)
class Joint:
    """Where two pieces meet: kind, gap [mm], length of the shared border [mm], its middle.

    A doubtful joint counts as a touch when `likely_touching`; `confidence` is the chance that it is as told.
    """

    between: tuple[int, int]
    kind: Literal["touching", "doubtful", "gap"]
    gap_mm: float
    length_mm: float
    at: Point
    likely_touching: bool = False
    confidence: float = 1.0

    @property
    def closed(self) -> bool:
        """Whether current passes, as far as is known."""
        return self.kind == "touching" or (self.kind == "doubtful" and self.likely_touching)


@dataclass(frozen=True)
class Entry:
    """Where a leg or lead goes in: `pack.plus`, `pack.minus`, `L1.long`, `L1.short`, ...

    `piece` None: it misses the dough; the nearest conductive piece is `near`, `off_mm` away.
    """

    name: str
    at: Point
    piece: int | None
    near: int | None = None
    off_mm: float = 0.0


@dataclass(frozen=True)
class Wall:
    """Insulating dough between two pieces, or two arms of one: its thinnest place [mm]."""

    piece: int
    between: tuple[int, int]
    thinnest_mm: float
    at: Point


@dataclass(frozen=True)
class Sculpture:
    """A sculpture on a grid: the hand-over from seeing to sums.

    grid    (R, C) int32: id of the piece in each cell, 0 none
    dough_of id of a piece -> index into `doughs`
    height_mm (R, C) float32: height of the dough where it was estimated, else NaN; None: as its dough says
    """

    grid: NDArray[np.int32]
    cell_mm: float
    dough_of: Mapping[int, int]
    doughs: tuple[Dough, ...]
    joints: tuple[Joint, ...]
    entries: Mapping[str, Entry]
    leds: tuple[Led, ...]
    pack: Pack
    electrode: Electrode
    brightness: Brightness
    parts: tuple[Part, ...] = ()
    walls: tuple[Wall, ...] = ()
    height_mm: NDArray[np.float32] | None = None


@dataclass(frozen=True)
class Lump:
    """An electrical body: its letter and the ids of its pieces."""

    id: str
    pieces: tuple[int, ...]


@dataclass(frozen=True)
class Finding:
    """One thing that is, or may be, wrong. `facts` feeds the sentences."""

    code: str
    level: Level
    parts: tuple[str, ...]
    at: Point
    path: tuple[Point, ...] = ()
    cut: tuple[Point, Point] | None = None
    cut_mm: float | None = None
    facts: Mapping[str, str | float] = field(default_factory=dict)


@dataclass(frozen=True)
class Step:
    """One thing to do; `to` is the lump a leg or lead moves to."""

    action: Action
    parts: tuple[str, ...]
    at: Point
    to: str | None = None
    to_at: Point | None = None
    line: tuple[Point, Point] | None = None
    facts: Mapping[str, str | float] = field(default_factory=dict)


@dataclass(frozen=True)
class Remedy:
    """Steps to take, and the state and current of every LED afterwards."""

    steps: tuple[Step, ...]
    seconds: float
    then: Mapping[str, State]
    then_A: Mapping[str, float]
    pack_A: float


@dataclass(frozen=True)
class LedResult:
    """Current through an LED, anode to cathode, and how it looks.

    volts_V  between its legs; power_W in it; glow  how bright it looks, 1 at 20 mA (Stevens' law)
    """

    id: str
    current_A: float
    state: State
    volts_V: float = 0.0
    power_W: float = 0.0
    glow: float = 0.0


@dataclass(frozen=True)
class PartResult:
    """Current through another part from a to b, the volts over it, and whether it works."""

    id: str
    current_A: float
    volts_V: float
    works: bool


@dataclass(frozen=True)
class Trace:
    """The finger-walk of one leg: to the lead it wants, without crossing another light.

    wanted   `pack.plus` for a long leg, `pack.minus` for a short one
    reaches  leads that can be reached without crossing a light
    lumps    letters of all lumps that can be reached so; without the wanted lead among `reaches` they are
             the proof that there is no way
    path     the walk [mm] to the wanted lead, empty when there is none
    crosses  LEDs on the way with the fewest lights, when no way is free; empty when there is no way
    """

    leg: str
    wanted: str
    reaches: tuple[str, ...]
    lumps: tuple[str, ...]
    path: tuple[Point, ...]
    crosses: tuple[str, ...]


@dataclass(frozen=True)
class Arrangement:
    """What the LEDs of this sculpture would do in a row, or side by side, or as they are."""

    way: Literal["as-built", "in-a-row", "side-by-side"]
    leds: tuple[LedResult, ...]
    pack_A: float


@dataclass(frozen=True)
class Otherwise:
    """The answer if a doubtful joint (its index in the sculpture's joints) goes the other way."""

    joint: int
    entries: Mapping[str, str | None]
    leds: tuple[LedResult, ...]


@dataclass(frozen=True)
class Cause:
    """A hidden cause: something that may be wrong and that the photo cannot show.

    parts  the LED; `pack`; letters of the two lumps that a short or a doubtful contact joins; letter of the
           dry lump
    """

    code: CauseCode
    parts: tuple[str, ...]
    at: Point


@dataclass(frozen=True)
class Suspect:
    """A hidden cause with the chance that it is there, from 0 to 1, alone or with another."""

    cause: Cause
    probability: float


@dataclass(frozen=True)
class Check:
    """Something to check with bare hands.

    answers  what may be seen then: `all` every light is on now, `lights` it helped, but some are still off,
             `same` nothing changed, `across` dough goes across (it is parted, and not every light is on yet),
             `nothing` none does, `change` other lights change, `bright`, `dim`, `dark` how the LED looks;
             the last is always `unsure`
    bits     what it is expected to tell; seconds: a helper's time
    to_at    for `touch-beside-leads`: where the long and the short leg go
    """

    action: CheckAction
    parts: tuple[str, ...]
    at: Point
    seconds: float
    answers: tuple[Answer, ...]
    bits: float = 0.0
    to_at: tuple[Point, ...] = ()


@dataclass(frozen=True)
class Answered:
    """A check that was done, and what was seen."""

    action: CheckAction
    parts: tuple[str, ...]
    answer: Answer


@dataclass(frozen=True)
class Enquiry:
    """The search for what the photo cannot show, as far as it has come.

    suspects    likeliest first
    next_check  what to check next, None when it is over; others: what else could be checked, best first
    state       `asking`; `named`: `named` holds what it is; `cannot-tell`: no check left tells more
    alike       sets of suspects that no check left can tell apart
    untold      nobody has said yet how any light looks, which would tell more than a check
    """

    suspects: tuple[Suspect, ...]
    next_check: Check | None
    others: tuple[Check, ...] = ()
    answered: tuple[Answered, ...] = ()
    state: Literal["asking", "named", "cannot-tell"] = "asking"
    named: tuple[Cause, ...] = ()
    alike: tuple[tuple[Cause, ...], ...] = ()
    untold: bool = False


@dataclass(frozen=True)
class Inspection:
    """All that was found out about a sculpture.

    entries  name of an entry -> letter of its lump, None when it is in none
    enquiry  the search for what the photo cannot show; None where the photo explains what is seen
    other_way  indices of doubtful joints that count the other way than they look, because that explains
             what is seen lit
    notes    design weaknesses: nothing is broken, but it could be built better
    entry_V  name of an entry in dough -> volts there, the black lead's dough at 0
    hours    until the cells are flat at this current, None when no current flows
    """

    lumps: tuple[Lump, ...]
    entries: Mapping[str, str | None]
    leds: tuple[LedResult, ...]
    pack_A: float
    terminal_V: float
    findings: tuple[Finding, ...]
    remedies: tuple[Remedy, ...]
    otherwise: tuple[Otherwise, ...] = ()
    notes: tuple[Finding, ...] = ()
    parts: tuple[PartResult, ...] = ()
    entry_V: Mapping[str, float] = field(default_factory=dict)
    hours: float | None = None
    traces: tuple[Trace, ...] = ()
    arrangements: tuple[Arrangement, ...] = ()
    enquiry: Enquiry | None = None
    other_way: tuple[int, ...] = ()
