"""What the photo cannot show: single hidden causes, weighed by how well each explains what is seen lit."""

from collections.abc import Iterator, Mapping

from circuit.board import Board, Placing, turned
from circuit.lumps import legs, middle
from circuit.model import Answer, Cause, CauseCode, Check, CheckAction, Enquiry, Sculpture, State, Suspect
from circuit.outcome import Outcome, operate_many

# Prior weights, estimated. 'Nine in ten unlit LEDs are backwards' is common practice, no published
# source; but the helper has looked at the legs while tapping them, so the rest weighs more here.
PRIORS: dict[CauseCode, float] = {
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
CHECKS: dict[CauseCode, CheckAction] = {
    "led-backwards": "turn",
    "short-underneath": "look-underneath",
    "leg-loose": "press-in",
    "lead-loose": "press-in",
    "pack-flat": "swap-pack",
    "led-dead": "swap-led",
}


def enquire(board: Board, placing: Placing, now: Outcome) -> Enquiry:
    """Suspects for a sculpture that looks other than the sums say, and what to check next."""
    seen = {led.id: led.seen for led in board.sculpture.leds if led.seen is not None}
    weights: dict[tuple[CauseCode, tuple[str, ...]], float] = {}
    for cause, parts, states in _causes(board, placing, now):
        weights[cause, parts] = PRIORS[cause] * _likelihood(seen, states)
    total = sum(weights.values()) or 1.0
    ordered = sorted(weights.items(), key=lambda item: -item[1])
    suspects = tuple(
        Suspect(Cause(code, parts, _place(board.sculpture, parts)), w / total) for (code, parts), w in ordered
    )
    return Enquiry(suspects, _next(board.sculpture, suspects))


def _place(sculpture: Sculpture, parts: tuple[str, ...]) -> tuple[float, float]:
    wanted = parts or ("pack",)
    return middle(*(e.at for n, e in sculpture.entries.items() if n.rpartition(".")[0] in wanted))


def _next(sculpture: Sculpture, suspects: tuple[Suspect, ...]) -> Check | None:
    """The check with the most probability per second of effort (Kadane and Simon 1977, from memory)."""
    gain: dict[tuple[CheckAction, tuple[str, ...]], float] = {}
    for suspect in suspects:
        action = CHECKS[suspect.cause.code]
        # One look underneath or one press of all legs and leads checks every place at once.
        parts = suspect.cause.parts if action in ("turn", "swap-led") else ("pack",)
        gain[action, parts] = gain.get((action, parts), 0.0) + suspect.probability
    if not gain:
        return None
    action, parts = max(gain, key=lambda key: gain[key] / SECONDS[key[0]])
    answers: tuple[Answer, ...] = ("lights", "same", "unsure")
    if action == "look-underneath":
        answers = ("across", "nothing", "unsure")
    return Check(action, parts, _place(sculpture, parts), SECONDS[action], answers)


def _likelihood(seen: Mapping[str, State | None], states: Mapping[str, State]) -> float:
    """Chance of seeing this if the LEDs are in these states."""
    product = 1.0
    for led, state in seen.items():
        product *= SEEN_RIGHT if (state == "off") == (states[led] == "off") else 1 - SEEN_RIGHT
    return product


def _causes(
    board: Board, placing: Placing, now: Outcome
) -> Iterator[tuple[CauseCode, tuple[str, ...], Mapping[str, State]]]:
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
