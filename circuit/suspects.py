"""What the photo cannot show: single hidden causes, weighed by how well each explains what is seen lit."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from circuit.board import Board, Placing, turned
from circuit.lumps import legs
from circuit.model import Action, State
from circuit.outcome import Outcome, operate_many

# Prior weights, estimated. 'Nine in ten unlit LEDs are backwards' is common practice, no published
# source; but the helper has looked at the legs while tapping them, so the rest weighs more here.
PRIORS = {
    "led-backwards": 0.35,
    "short-underneath": 0.25,
    "leg-loose": 0.1,
    "lead-loose": 0.1,
    "pack-flat": 0.15,
    "led-dead": 0.05,
}
SEEN_RIGHT = 0.95  # chance that a light looks as it should, estimated
SECONDS = {
    "turn": 12.0,
    "look-underneath": 15.0,
    "press-in": 8.0,
    "swap-pack": 30.0,
    "swap-led": 20.0,
}
CHECKS: dict[str, Action] = {
    "led-backwards": "turn",
    "short-underneath": "look-underneath",
    "leg-loose": "press-in",
    "lead-loose": "press-in",
    "pack-flat": "swap-pack",
    "led-dead": "swap-led",
}


@dataclass(frozen=True)
class Suspect:
    """A possible hidden cause with its probability among the causes weighed here."""

    cause: str
    parts: tuple[str, ...]
    probability: float


def weigh(board: Board, placing: Placing, now: Outcome) -> tuple[Suspect, ...]:
    """Suspects for a sculpture that looks other than the sums say, likeliest first."""
    seen = {led.id: led.seen for led in board.sculpture.leds if led.seen is not None}
    weights: dict[tuple[str, tuple[str, ...]], float] = {}
    for cause, parts, states in _causes(board, placing, now):
        weights[cause, parts] = PRIORS[cause] * _likelihood(seen, states)
    total = sum(weights.values()) or 1.0
    ordered = sorted(weights.items(), key=lambda item: -item[1])
    return tuple(Suspect(cause, parts, w / total) for (cause, parts), w in ordered)


def next_check(suspects: tuple[Suspect, ...]) -> tuple[Action, tuple[str, ...]] | None:
    """The check with the most probability per second of effort (Kadane and Simon 1977, from memory)."""
    gain: dict[tuple[Action, tuple[str, ...]], float] = {}
    for suspect in suspects:
        action = CHECKS[suspect.cause]
        # One look underneath or one press of all legs and leads checks every place at once.
        parts = suspect.parts if action in ("turn", "swap-led") else ("pack",)
        gain[action, parts] = gain.get((action, parts), 0.0) + suspect.probability
    return max(gain, key=lambda key: gain[key] / SECONDS[key[0]]) if gain else None


def _likelihood(seen: Mapping[str, State | None], states: Mapping[str, State]) -> float:
    """Chance of seeing this if the LEDs are in these states."""
    product = 1.0
    for led, state in seen.items():
        product *= SEEN_RIGHT if (state == "off") == (states[led] == "off") else 1 - SEEN_RIGHT
    return product


def _causes(
    board: Board, placing: Placing, now: Outcome
) -> Iterator[tuple[str, tuple[str, ...], Mapping[str, State]]]:
    """Every single hidden cause with the states of the LEDs that it would bring about."""
    dark: dict[str, State] = dict.fromkeys(now.states, "off")
    yield "short-underneath", (), dark
    yield "pack-flat", ("pack",), dark
    yield "lead-loose", ("pack",), dark
    leds = board.sculpture.leds
    backwards: list[Placing] = [turned(placing, led.id) for led in leds]
    loose: list[Placing] = [{**placing, legs(led)[0]: None} for led in leds]
    found = operate_many(board, backwards + loose)
    for led, turn, free in zip(leds, found, found[len(leds) :], strict=False):
        yield "led-backwards", (led.id,), turn.states
        yield "leg-loose", (led.id,), free.states
        yield "led-dead", (led.id,), free.states
