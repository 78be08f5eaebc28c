"""The sample sculptures as data: a rainy afternoon of pond animals, all invented.

Millimetres, x to the right, y towards the viewer, origin in the middle of the picture.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

from sample_images.studio.shapes import (
    Depth,
    Point,
    arc,
    capsule,
    curve,
    cut,
    disc,
    ellipse,
    join,
    meet,
    polygon,
    rope,
)

LAP = 0.8
"""How far a wall sinks into the dough beside it, mm, where they are pressed together."""


@dataclass(frozen=True)
class Dough:
    name: str
    hex: str
    role: str


@dataclass(frozen=True)
class Piece:
    """A body of one dough; `lines` are marks drawn into it."""

    dough: str
    shape: Depth
    top_mm: float = 12.0
    edge_mm: float = 7.0
    lines: Sequence[Sequence[Point]] = ()


@dataclass(frozen=True)
class Led:
    """An LED and where its legs go in; `lean` tips it over."""

    id: str
    colour: str
    long: Point
    short: Point
    lean: Point = (0.0, 0.0)


@dataclass(frozen=True)
class Lead:
    """A lead that goes in at `at`; it comes from `way_deg` (0 right, 90 down), by way of `via`."""

    at: Point
    way_deg: float
    via: Sequence[Point] = ()


@dataclass(frozen=True)
class Sample:
    """All that a photo is made from. `lumps` says which lump each entry must be in."""

    name: str
    title: str
    story: str
    seed: int
    table: tuple[str, str, str]
    doughs: Sequence[Dough]
    pieces: Sequence[Piece]
    leds: Sequence[Led]
    plus: Lead
    minus: Lead
    pack_at: Point
    pack_turn_deg: float
    crosses: tuple[Point, Point]
    fault: str | None
    parts: Sequence[str]
    fault_at: Point | None
    lumps: Sequence[Sequence[str]]
    pencil: str = "#3a3a3c"
    pack_wires: int = -1
    lamp_at: tuple[float, float, float] = (-330.0, -260.0, 520.0)
    eye: tuple[float, float, float] = (6.0, -4.0, 400.0)
    target: Point = (0.0, 0.0)
    roll_deg: float = 0.8
    exposure: float = 1.75
    off_dough: Sequence[str] = field(default_factory=tuple)


CORAL = Dough("coral", "#e8705e", "conductive")
MINT = Dough("mint", "#62b796", "conductive")
CREAM = Dough("cream", "#efe0b4", "insulating")
PLUM = Dough("plum", "#8b4a86", "conductive")

PLUS_SIDE = ("pack.plus", "L1.long", "L2.long", "L3.long")
MINUS_SIDE = ("pack.minus", "L1.short", "L2.short", "L3.short")
SIDE_BY_SIDE = (PLUS_SIDE, MINUS_SIDE)
ALL_IN_ONE = ((*PLUS_SIDE, *MINUS_SIDE),)


def snail() -> Sample:
    """Three LEDs side by side across the seam between shell and foot: all is well."""
    hub = (8.0, -14.0)
    shell = disc(*hub, 35)
    foot = join(
        rope(curve([(-66, 33), (-30, 37), (20, 37), (76, 33)]), (11, 13.5, 14, 8)),
        rope(curve([(-60, 32), (-72, 14), (-70, -10)]), (11, 9, 10)),
        capsule((-73, -14), (-84, -34), 3.4, 3.6),
        capsule((-67, -14), (-62, -36), 3.4, 3.6),
        soft=7,
    )
    seam = arc(*hub, 39.5, 10, 172)
    wall = rope(seam, (3.6, 4.4, 4.4, 3.6))
    coil = [arc(*hub, 27 - 0.055 * a, 100 + a, 101 + a, 2)[0] for a in range(0, 440, 8)]
    legs = [(arc(*hub, 29, a, a + 1)[0], arc(*hub, 50.5, a, a + 1)[0]) for a in (118, 90, 63)]
    return Sample(
        name="snail",
        title="Snail, all lights on",
        story="Nickname 'snail' came in out of the rain and built the slowest animal. All three lights burn.",
        seed=11,
        table=("wood", "#d9ab72", "#9c6a3b"),
        doughs=(MINT, CORAL, CREAM),
        pieces=(
            Piece("mint", cut(shell, wall, grow=-LAP), 14, 9, (coil,)),
            Piece("coral", cut(foot, wall, grow=-LAP), 12, 7, (arc(-70, -9, 5, 60, 150, 8),)),
            Piece("cream", wall, 10.5, 4.2),
        ),
        leds=[
            Led(f"L{i + 1}", colour, *ends, lean=lean)
            for i, (colour, ends, lean) in enumerate(
                zip(("red", "yellow", "red"), legs, ((-0.25, 0.5), (0.1, 0.45), (0.4, 0.5)), strict=True)
            )
        ],
        plus=Lead((27, -32), -40, ((62, -62), (76, -74))),
        minus=Lead((50, 37), 20, ((92, 40), (106, 8), (94, -44))),
        pack_at=(118, -76),
        pack_turn_deg=-8,
        crosses=((-78, -72), (2, -72)),
        fault=None,
        parts=(),
        fault_at=None,
        lumps=SIDE_BY_SIDE,
    )


def owl() -> Sample:
    """Three LEDs down the belly, the middle one in backwards."""
    body = join(
        ellipse(0, 10, 43, 52),
        disc(0, -28, 33),
        capsule((-22, -46), (-31, -66), 9, 4),
        capsule((22, -46), (31, -66), 9, 4),
        capsule((-36, -6), (-52, 38), 10, 6),
        capsule((36, -6), (52, 38), 10, 6),
        soft=8,
    )
    middle = curve([(0, -60), (-1, -30), (1.5, 10), (-1, 50), (0, 70)])
    wall = rope(middle, (4, 5, 5.4, 5, 4))
    left = polygon([(-120, -100), (0, -100), (0, 100), (-120, 100)], 0.0)
    right = polygon([(0, -100), (120, -100), (120, 100), (0, 100)], 0.0)

    def half(side: Depth) -> Depth:
        return cut(meet(body, side), wall, grow=-LAP)

    rings = [arc(x, -27, r, 0, 360, 40) for x in (-16, 16) for r in (8.0, 3.0)]
    feathers = [
        arc(x, y, 5, 20, 160, 8) for x, y in ((-40, 12), (-30, 26), (-44, 26), (40, 12), (30, 26), (44, 26))
    ]
    return Sample(
        name="owl",
        title="Owl, one button dark",
        story="Nickname 'owl' gave the bird three shirt buttons. Two glow, the middle one does not.",
        seed=23,
        table=("paper", "#c9a77c", "#a37f56"),
        doughs=(PLUM, CREAM),
        pieces=(
            Piece("plum", half(left), 13, 8, [*rings[:2], *feathers[:3]]),
            Piece("plum", half(right), 13, 8, [*rings[2:], *feathers[3:]]),
            Piece("cream", wall, 11, 4.6),
        ),
        leds=[
            Led("L1", "red", (-12, -6), (11.5, -5), lean=(0.1, -0.35)),
            Led("L2", "red", (12.5, 18), (-10.5, 17), lean=(0.2, 0.3)),
            Led("L3", "red", (-12, 40), (12, 41), lean=(-0.1, 0.5)),
        ],
        plus=Lead((-25, 40), 150, ((-70, 74), (-20, 84), (40, 80), (62, 62))),
        minus=Lead((36, -10), -28, ((76, -20), (78, 6), (72, 24))),
        pack_at=(112, 48),
        pack_turn_deg=6,
        crosses=((-96, -74), (-96, 6)),
        fault="led-backwards",
        parts=("L2",),
        fault_at=(1, 17.5),
        lumps=(
            ("pack.plus", "L1.long", "L2.short", "L3.long"),
            ("pack.minus", "L1.short", "L2.long", "L3.short"),
        ),
        lamp_at=(300.0, -300.0, 520.0),
        roll_deg=-1.1,
    )


LIME = Dough("lime", "#a3bf4c", "conductive")
BRICK = Dough("brick", "#a5472f", "insulating")
RUST = Dough("rust", "#b0532f", "conductive")
BUTTER = Dough("butter", "#e8c65a", "conductive")
CHALK = Dough("chalk", "#ecebe4", "insulating")


def newt() -> Sample:
    """A wall along the back that stops at the neck: the dough goes round its end, through the head."""
    back = curve([(-74, 1), (-50, 3), (-24, 4), (0, -3), (30, 4), (58, 0), (84, 8), (106, -4)])
    wall = rope(back, (3.6, 4.2, 4.4, 4.4, 5.5, 4.5, 1.6))
    body = join(
        disc(-68, 0, 23),
        rope(curve([(-68, 0), (-30, 4), (0, -3), (30, 4), (56, 1)]), (21, 21, 22, 20, 15)),
        *(capsule(a, b, 7, 5) for a, b in (((-26, -8), (-36, -38)), ((-26, 12), (-38, 42)),
                                            ((36, -6), (46, -36)), ((36, 12), (44, 42)))),
        soft=7,
    )  # fmt: skip
    ends = (((-57, -10), (-56, 14.5)), ((-30, -9.5), (-29, 16.5)))
    eyes = [arc(-78, y, 3.2, 0, 360, 24) for y in (-11, 11)]
    return Sample(
        name="newt",
        title="Newt, all dark",
        story="Nickname 'newt' laid a long red stripe down the back, from the tail nearly to the nose.",
        seed=31,
        table=("cloth", "#7388a0", "#8fa3b8"),
        doughs=(LIME, BRICK),
        pieces=(Piece("lime", cut(body, wall, grow=-LAP), 12, 7.5, eyes), Piece("brick", wall, 11, 4.6)),
        leds=[
            Led("L1", "yellow", *ends[0], lean=(0.4, -0.3)),
            Led("L2", "red", *ends[1], lean=(-0.2, 0.4)),
        ],
        plus=Lead((-84, -8.5), -125, ((-100, -42), (-80, -66), (0, -74), (60, -78))),
        minus=Lead((-84, 8.5), 125, ((-100, 42), (-78, 69), (0, 77), (80, 64), (118, 10), (100, -24))),
        pack_at=(118, -66),
        pack_turn_deg=14,
        crosses=((-40, 58), (40, 58)),
        fault="short-round-the-end",
        parts=("pack",),
        fault_at=(-84, 1),
        lumps=(("pack.plus", "pack.minus", "L1.long", "L2.long", "L1.short", "L2.short"),),
        pencil="#e8ecf0",
        lamp_at=(-260.0, -330.0, 520.0),
        roll_deg=1.6,
    )


def boat() -> Sample:
    """A sail whose corner has sunk on to the hull."""
    hull = polygon([(-62, 28), (68, 27), (46, 52), (-42, 52)], 6.0)
    sail = join(polygon([(-44, 9), (42, 8), (14, -62)], 6.0), capsule((36, 4), (40, 17), 14, 14), soft=6)
    pennant = polygon([(2, -72), (24, -74), (24, -66)], 3.5)
    legs = (((-38, 7), (-38, 30)), ((-17, 7), (-16, 30)), ((4, 7), (4, 30)))
    planks = [curve([(-54, 37), (0, 39), (58, 36)], 8), curve([(-46, 47), (0, 49), (48, 46)], 8)]
    return Sample(
        name="boat",
        title="Boat, all dark",
        story="Nickname 'boat' hung the sail close over the deck. "
        "It burned at first; then the tray was carried across the room.",
        seed=47,
        table=("wood", "#8a5a3a", "#4f2f1c"),
        doughs=(RUST, BUTTER, CHALK),
        pieces=(
            Piece("rust", hull, 13, 7, planks),
            Piece("butter", sail, 11.5, 7, (curve([(8, -48), (-4, -20), (-20, 0)], 8),)),
            Piece("chalk", cut(pennant, sail, grow=-LAP), 9, 4),
        ),
        leds=[
            Led(f"L{i + 1}", colour, *ends, lean=lean)
            for i, (colour, ends, lean) in enumerate(
                zip(("red", "yellow", "red"), legs, ((-0.3, 0.2), (0.2, -0.3), (0.35, 0.1)), strict=True)
            )
        ],
        plus=Lead((44, 7), -25, ((76, -30), (84, -44))),
        minus=Lead((51, 35), 5, ((96, 36), (106, 10), (96, -24))),
        pack_at=(118, -64),
        pack_turn_deg=-14,
        crosses=((-92, -70), (-92, 10)),
        fault="short-pressed-together",
        parts=("pack",),
        fault_at=(39, 22),
        lumps=ALL_IN_ONE,
        pencil="#e6dfd2",
        lamp_at=(-330.0, 220.0, 520.0),
        exposure=1.9,
    )


def caterpillar() -> Sample:
    """Four balls in a chain with three LEDs from ball to ball: too many in a row."""
    middles = ((-62, 14), (-23, -4), (17, -6), (57, 10))
    head = join(
        disc(*middles[3], 18.5),
        capsule((64, -4), (72, -20), 3.6, 3),
        capsule((56, -6), (54, -24), 3.6, 3),
        soft=5,
    )
    balls = [*(disc(x, y, 17 + 0.4 * i) for i, (x, y) in enumerate(middles[:3])), head]
    smile = (arc(60, 12, 8, 10, 120, 16), arc(53, 4, 1.6, 0, 360, 12), arc(66, 5, 1.6, 0, 360, 12))
    dots = [arc(x + 2, y + 4, 5, 0, 360, 24) for x, y in middles[:3]]
    joints = (((-51, 8.5), (-33.5, 0.5)), ((-12, -5), (6, -5.5)), ((27.5, -2), (46.5, 5.5)))
    return Sample(
        name="caterpillar",
        title="Caterpillar, all dark",
        story="Nickname 'caterpillar' wanted a light at every joint. Every joint has one, and none burns.",
        seed=59,
        table=("paper", "#e5e2da", "#c9c4b8"),
        doughs=(CORAL, LIME),
        pieces=[
            Piece("coral" if i % 2 else "lime", ball, 14, 10, smile if i == 3 else (dots[i],))
            for i, ball in enumerate(balls)
        ],
        leds=[
            Led(f"L{i + 1}", colour, *ends, lean=lean)
            for i, (colour, ends, lean) in enumerate(
                zip(("red", "red", "yellow"), joints, ((0.1, 0.4), (-0.1, 0.45), (0.2, -0.4)), strict=True)
            )
        ],
        plus=Lead((-68, 10), -130, ((-92, -40), (-50, -66), (10, -64), (60, -62))),
        minus=Lead((60, 19), 60, ((80, 56), (104, 40), (112, 0), (104, -20))),
        pack_at=(112, -62),
        pack_turn_deg=4,
        crosses=((-60, 66), (20, 66)),
        fault="too-many-in-a-row",
        parts=("L1", "L2", "L3"),
        fault_at=(-3, -5),
        lumps=(
            ("pack.plus", "L1.long"),
            ("L1.short", "L2.long"),
            ("L2.short", "L3.long"),
            ("L3.short", "pack.minus"),
        ),
        lamp_at=(320.0, -240.0, 520.0),
        roll_deg=-0.6,
        exposure=1.6,
    )


def lighthouse() -> Sample:
    """A tower in two halves, the left one broken across."""
    tower = polygon([(-33, 70), (33, 70), (23, -42), (-23, -42)], 5.0)
    wall = rope(curve([(0, -54), (1, 0), (-1, 40), (0, 84)]), (4.4, 4.8, 4.8, 4.2))
    roof = join(
        polygon([(-24, -52), (24, -52), (0, -74)], 4.0), capsule((-30, -49), (30, -49), 4.4, 4.4), soft=3
    )
    crack = rope(((-60, 10), (-34, 12), (-22, 9), (-12, 13), (2, 12)), (2.6, 2.4, 2.8, 2.3, 2.3))
    left = polygon([(-120, -100), (0, -100), (0, 100), (-120, 100)], 0.0)
    right = polygon([(0, -100), (120, -100), (120, 100), (0, 100)], 0.0)
    whole = cut(tower, wall, roof, grow=-LAP)
    upper = polygon([(-120, -100), (120, -100), (120, 11), (-120, 11)], 0.0)
    lower = polygon([(-120, 11), (120, 11), (120, 100), (-120, 100)], 0.0)
    stones = [((-36, y), (-10, y + 1)) for y in (34, 64)] + [((10, y), (36, y - 1)) for y in (28, 4, -20)]
    broken = cut(meet(whole, left), crack)
    return Sample(
        name="lighthouse",
        title="Lighthouse, lower window only",
        story="Nickname 'lighthouse' built the tallest tower of the afternoon. "
        "Since somebody leaned on it, only the lowest window burns.",
        seed=61,
        table=("cloth", "#b9ab94", "#d2c6b2"),
        doughs=(Dough("ice", "#86b9d6", "conductive"), BRICK),
        pieces=(
            Piece("ice", meet(broken, lower), 12, 7, stones[:2]),
            Piece("ice", meet(broken, upper), 12, 7),
            Piece("ice", meet(whole, right), 12, 7, stones[2:]),
            Piece("brick", wall, 10.5, 4.4),
            Piece("brick", roof, 12, 6),
        ),
        leds=[
            Led("L1", "yellow", (-12, 44), (11, 43), lean=(0.1, 0.4)),
            Led("L2", "red", (-11.5, -8), (12, -9), lean=(-0.2, 0.3)),
            Led("L3", "red", (-11, -30), (11.5, -30), lean=(0.2, -0.3)),
        ],
        plus=Lead((-26, 56), 165, ((-70, 78), (-30, 86), (30, 84), (66, 62))),
        minus=Lead((26, 50), 5, ((76, 46), (80, 34))),
        pack_at=(114, 34),
        pack_turn_deg=-5,
        crosses=((-90, -66), (-90, 14)),
        fault="gap-in-lump",
        parts=("L2", "L3"),
        fault_at=(-22, 10.5),
        lumps=(
            ("pack.plus", "L1.long"),
            ("L2.long", "L3.long"),
            ("pack.minus", "L1.short", "L2.short", "L3.short"),
        ),
        lamp_at=(-320.0, -200.0, 520.0),
        roll_deg=1.2,
        exposure=1.65,
    )


def turtle() -> Sample:
    """A leg of one LED has slipped out over the rim."""
    shell = ellipse(-6, 0, 56, 44)
    wall = rope(curve([(-68, 2), (-40, -1), (-6, 2), (30, -1), (48, 1), (60, 0)]), (5, 4.6, 4.6, 4.6, 4.6, 4))
    up = polygon([(-140, -100), (140, -100), (140, 0), (-140, 0)], 0.0)
    down = polygon([(-140, 0), (140, 0), (140, 100), (-140, 100)], 0.0)
    feet_up = (capsule((-30, -30), (-46, -54), 10, 8), capsule((22, -30), (34, -54), 10, 8))
    feet_down = (capsule((-30, 30), (-46, 54), 10, 8), capsule((22, 30), (34, 52), 10, 8))
    head = join(capsule((-58, 0), (-84, 2), 8, 12), capsule((50, 0), (78, 4), 6, 2.5), soft=2)
    plates = [
        arc(x, y, 9, 0, 360, 7) for x, y in ((-34, -20), (-8, -27), (18, -20), (-34, 20), (-8, 27), (16, 22))
    ]
    top = cut(meet(join(shell, *feet_up, soft=6), up), wall, head, grow=-LAP)
    low = cut(meet(join(shell, *feet_down, soft=6), down), wall, head, grow=-LAP)
    return Sample(
        name="turtle",
        title="Turtle, tail light dark",
        story="Nickname 'turtle' carried the shell over from another table. "
        "The light next to the tail went out on the way.",
        seed=73,
        table=("wood", "#cdb391", "#a98a62"),
        doughs=(Dough("moss", "#6f8c4a", "conductive"), Dough("pumpkin", "#df8a3c", "insulating")),
        pieces=(
            Piece("moss", top, 13, 9, plates[:3]),
            Piece("moss", low, 13, 9, plates[3:]),
            Piece("pumpkin", join(wall, head, soft=4), 11, 4.8),
        ),
        leds=[
            Led("L1", "red", (-44, -10), (-43, 12), lean=(-0.3, 0.3)),
            Led("L2", "yellow", (-10, -10), (-9, 13.5), lean=(0.0, -0.4)),
            Led("L3", "red", (38, -10), (52, 17), lean=(0.4, 0.2)),
        ],
        plus=Lead((10, -36), -75, ((24, -72), (60, -76), (76, -70))),
        minus=Lead((12, 35), 70, ((30, 74), (70, 72), (98, 40), (98, -14))),
        pack_at=(116, -56),
        pack_turn_deg=10,
        crosses=((-96, -70), (-16, -70)),
        fault="leg-out",
        parts=("L3",),
        fault_at=(52, 17),
        lumps=(("pack.plus", "L1.long", "L2.long", "L3.long"), ("pack.minus", "L1.short", "L2.short")),
        off_dough=("L3.short",),
        lamp_at=(300.0, 280.0, 520.0),
        roll_deg=-1.4,
        exposure=1.6,
    )


def frog() -> Sample:
    """All lights on, but one foot has crept within a hair of the head."""
    head = join(ellipse(-4, -28, 42, 23), disc(-28, -46, 12), disc(22, -46, 12), soft=6)
    body = join(
        ellipse(-4, 32, 36, 23),
        rope(curve([(-34, 34), (-58, 44), (-70, 62)]), (11, 10, 7)),
        rope(curve([(24, 36), (50, 44), (64, 62)]), (11, 10, 7)),
        rope(curve([(24, 24), (44, 12), (37, -13)]), (9, 8.5, 7.5)),
        soft=6,
    )
    head = cut(head, body, grow=0.8)
    eyes = [arc(x, -47, r, 0, 360, 24) for x in (-28, 22) for r in (6.0, 2.0)]
    legs = (((-24, -15), (-24, 20)), ((-4, -12), (-4, 16)), ((16, -14), (15, 19)))
    return Sample(
        name="frog",
        title="Frog, all lights on, but for how long?",
        story="Nickname 'frog' says it burns, so it is finished. "
        "The front foot is still creeping up to the chin.",
        seed=89,
        table=("paper", "#93836f", "#6f6150"),
        doughs=(Dough("leaf", "#7fc06a", "conductive"), Dough("rose", "#d98aa0", "insulating")),
        pieces=(
            Piece("leaf", head, 13, 8, [*eyes, arc(-4, -34, 22, 25, 155, 20)]),
            Piece("leaf", body, 12, 7),
            Piece("rose", disc(-86, -14, 11), 8, 5, (arc(-86, -14, 5, 0, 360, 24),)),
        ),
        leds=[
            Led(f"L{i + 1}", colour, *ends, lean=lean)
            for i, (colour, ends, lean) in enumerate(
                zip(("blue", "yellow", "blue"), legs, ((-0.3, 0.2), (0.1, 0.4), (0.3, 0.2)), strict=True)
            )
        ],
        plus=Lead((-34, -36), 190, ((-76, -44), (-80, -70), (-20, -76), (50, -74))),
        minus=Lead((20, 42), 70, ((40, 78), (88, 66), (106, 10), (98, -20))),
        pack_at=(114, -62),
        pack_turn_deg=-6,
        crosses=((-100, 30), (-100, 70)),
        fault="near-touch",
        parts=(),
        fault_at=(30, -17),
        lumps=SIDE_BY_SIDE,
        lamp_at=(280.0, -320.0, 520.0),
        roll_deg=0.3,
        exposure=1.8,
    )


MAKERS = (snail, owl, newt, boat, caterpillar, lighthouse, turtle, frog)


def samples() -> dict[str, Sample]:
    """All samples by name."""
    return {made.name: made for made in (maker() for maker in MAKERS)}
