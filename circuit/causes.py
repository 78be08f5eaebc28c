"""Hidden causes: how common each is, how bad it may be, and which of them this sculpture can have."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from circuit.board import Board, Placing, nearest_spots
from circuit.doubts import Flip
from circuit.lumps import LEADS, legs, middle
from circuit.model import Cause, CauseCode, Led, Point, Sculpture
from circuit.worlds import World

MOST_PAIRS, MOST_PLACES = 6, 4


@dataclass(frozen=True)
class Prior:
    """Odds that a cause is there before anything is seen lit; `per`: for each LED, lump, or sculpture."""

    odds: float
    per: str
    source: str


PRIORS: Mapping[CauseCode, Prior] = {
    "led-backwards": Prior(
        0.05,
        "LED",
        "nine in ten unlit LEDs are backwards: common practice, no published source. Most of them show when "
        "the legs are tapped; what is left is a long leg taken for the short one (estimated)",
    ),
    "led-dead": Prior(0.004, "LED", "estimated"),
    "leg-loose": Prior(0.012, "LED", "estimated"),
    "lead-loose": Prior(0.05, "sculpture", "estimated"),
    "pack-flat": Prior(0.05, "sculpture", "tired or switched off, estimated"),
    "short-underneath": Prior(0.07, "sculpture", "shared by all pairs of lumps, estimated"),
    "dough-dry": Prior(0.005, "lump", "estimated"),
}
"""A doubtful contact has odds of its own, from how sure the eyes are."""

SEVERITIES: Mapping[CauseCode, Sequence[tuple[float, float, float]]] = {
    "pack-flat": ((0.35, 0.72, 8.0), (0.3, 0.55, 20.0), (0.35, 1.0, np.inf)),
    "lead-loose": ((0.3, 1.0, 150.0), (0.4, 1.0, 500.0), (0.3, 1.0, np.inf)),
    "short-underneath": ((0.6, 1.0, 4.0), (0.4, 1.0, 25.0)),
}
"""Share of the cases; share of the pack's volts that is left; ohms: of pack or lead, or of the dough across.
A lead that only rests gives a dim light: common practice, no published source. Values estimated."""
LEG_RESTS = 0.3
"""Share of loose legs that still touch the dough (estimated)."""


@dataclass(frozen=True, eq=False)
class Mode:
    """A cause at one severity, with its odds, and the world in which nothing else is wrong."""

    cause: Cause
    odds: float
    world: World


def modes_of(board: Board, placing: Placing, flips: Sequence[Flip]) -> tuple[Mode, ...]:
    """Everything hidden that may be wrong with a sculpture."""
    return (
        *_of_leds(board.sculpture, placing),
        *_of_pack(board.sculpture),
        *_underneath(board, placing),
        *_of_contacts(board, flips),
        *_dry(board),
    )


def _of_leds(sculpture: Sculpture, placing: Placing) -> Iterator[Mode]:
    for led in sculpture.leds:
        if any(placing[leg] is None for leg in legs(led)):
            continue
        one = frozenset({led.id})
        at = middle(*(sculpture.entries[leg].at for leg in legs(led)))
        ways: tuple[tuple[CauseCode, float, World], ...] = (
            ("led-backwards", 1.0, World(turned=one)),
            ("led-dead", 1.0, World(dead=one)),
            ("leg-loose", 1 - LEG_RESTS, World(loose=one)),
            ("leg-loose", LEG_RESTS, World(resting=one)),
        )
        for code, share, world in ways:
            yield Mode(Cause(code, (led.id,), at), share * PRIORS[code].odds, world)


def _of_pack(sculpture: Sculpture) -> Iterator[Mode]:
    at = middle(*(sculpture.entries[lead].at for lead in LEADS))
    codes: tuple[CauseCode, ...] = ("pack-flat", "lead-loose")
    for code in codes:
        for share, emf, ohm in SEVERITIES[code]:
            yield Mode(
                Cause(code, ("pack",), at),
                share * PRIORS[code].odds,
                World(emf=emf, ohm=ohm),
            )


def _underneath(board: Board, placing: Placing) -> Iterator[Mode]:
    """Shorts between wired lumps that lie next to each other, else between any two; here or there."""
    pairs = pairs_beside(board)
    for (one, two), at in pairs.items():
        places = [ends for led in board.sculpture.leds if (ends := _between(board, placing, led, (one, two)))]
        near = nearest_spots(board, one, two)
        places = list(dict.fromkeys([*([near] if near else []), *places]))[:MOST_PLACES]
        for ends in places:
            for share, _, ohm in SEVERITIES["short-underneath"]:
                odds = share * PRIORS["short-underneath"].odds / len(pairs) / len(places)
                world = World(across=frozenset({(*ends, ohm)}))
                yield Mode(Cause("short-underneath", (one, two), at), odds, world)


def _between(board: Board, placing: Placing, led: Led, pair: tuple[str, str]) -> tuple[Point, Point] | None:
    """The spots of an LED that stands between these two lumps."""
    a, b = (placing[leg] for leg in legs(led))
    if a is None or b is None or {board.lump_at(a), board.lump_at(b)} != set(pair):
        return None
    return a, b


def pairs_beside(board: Board) -> dict[tuple[str, str], Point]:
    """Pairs of wired lumps with a gap or a wall between them, and where; any pairs where none lie so."""
    sculpture = board.sculpture
    of_piece = {piece: lump.id for lump in board.lumps for piece in lump.pieces}
    wired: dict[str, list[Point]] = {}
    for place, home in board.home.items():
        wired.setdefault(board.lumps[home].id, []).append(place)
    beside = [(j.between, j.at, j.gap_mm) for j in sculpture.joints]
    beside += [(w.between, w.at, w.thinnest_mm) for w in sculpture.walls]
    found: dict[tuple[str, str], Point] = {}
    for between, at, _ in sorted(beside, key=lambda item: item[2]):
        a, b = sorted(of_piece.get(piece, "") for piece in between)
        if a != b and a in wired and b in wired:
            found.setdefault((a, b), at)
    if not found:
        letters = sorted(wired)
        found = {
            (a, b): middle(*wired[a], *wired[b]) for i, a in enumerate(letters) for b in letters[i + 1 :]
        }
    return dict(list(found.items())[:MOST_PAIRS])


def _of_contacts(board: Board, flips: Sequence[Flip]) -> Iterator[Mode]:
    of_piece = {piece: lump.id for lump in board.lumps for piece in lump.pieces}
    for i, flip in enumerate(flips):
        joint = board.sculpture.joints[flip.joints[0]]
        letters = tuple(sorted({of_piece[piece] for piece in joint.between if piece in of_piece}))
        code: CauseCode = "contact-closed" if flip.closes else "contact-open"
        yield Mode(Cause(code, letters, joint.at), flip.odds, World(other=i))


def _dry(board: Board) -> Iterator[Mode]:
    for index, lump in enumerate(board.lumps):
        places = [place for place, home in board.home.items() if home == index]
        if len(places) > 1:
            cause = Cause("dough-dry", (lump.id,), middle(*places))
            yield Mode(cause, PRIORS["dough-dry"].odds, World(dry=frozenset({lump.id})))
