"""Checks, answers and hidden causes into words, in the language that is spoken, for three ages."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from api.language.speech import translated
from api.wording import DIALOGUES
from api.wording.sentences import MOST_LETTERS_ON_TOP, Age
from api.words import Speaker
from circuit.model import Answered, Cause, CheckAction

OF_LUMPS = ("pinch-apart", "press-together", "knead")
OF_LEDS = ("led-backwards", "led-dead", "leg-loose")
T = TypeVar("T")


@dataclass(frozen=True)
class CheckWords:
    """What is said of a check: a question, why it comes next, and what to do."""

    ask: str
    why: str
    do: str


def check_words(action: CheckAction, parts: Sequence[str], age: Age = "9-12") -> CheckWords:
    """The words of a check of these parts."""
    table, said = DIALOGUES[age], _speaker(parts, age, of_lumps=action in OF_LUMPS)
    return CheckWords(
        ask=translated(_of(table.ask, action, parts)),
        why=said.say(_of(table.why, action, parts)),
        do=said.say(_of(table.do, action, parts)),
    )


def answer_words(action: CheckAction, answer: str, age: Age = "9-12") -> str:
    """What stands on the plate of an answer."""
    table = DIALOGUES[age].answer
    return translated(table.get(f"{action}:{answer}", table[answer]))


def done_words(told: Answered, age: Age = "9-12") -> str:
    """A note of what was checked and what was seen: 'L2 turned round: no change'."""
    said = _speaker(told.parts, age, of_lumps=told.action in OF_LUMPS)
    done = said.phrase(_of(DIALOGUES[age].done, told.action, told.parts))
    answer = answer_words(told.action, told.answer, age)
    seen = answer if answer.startswith("I ") else answer[:1].lower() + answer[1:]
    return f"{done[:1].upper()}{done[1:]}: {seen}"


def cause_words(cause: Cause, age: Age = "9-12") -> str:
    """A suspect in a list: 'a loose leg of L2'."""
    return _of_cause(cause, age).phrase(DIALOGUES[age].cause[cause.code])


def named_words(cause: Cause, mended: bool, age: Age = "9-12", worked: bool = False) -> tuple[str, str]:
    """What it may be, and what to do about it; what it was, once a check has mended it.

    `worked`: every light is on.
    """
    table, said = DIALOGUES[age], _of_cause(cause, age)
    if mended:
        do = translated(table.worked_do if worked else table.leave)
        return said.say(table.was[cause.code], MOST_LETTERS_ON_TOP), do
    return said.say(table.named[cause.code], MOST_LETTERS_ON_TOP), said.say(table.cure[cause.code])


def worked_words(age: Age = "9-12") -> str:
    """Said when every light is on."""
    return f"{translated(DIALOGUES[age].worked)} {translated(DIALOGUES[age].worked_do)}"


def cannot_tell_words(age: Age = "9-12") -> str:
    """Said when no check is left that tells more."""
    return f"{translated(DIALOGUES[age].cannot_tell)} {translated(DIALOGUES[age].cannot_tell_do)}"


def untold_words(age: Age = "9-12") -> str:
    """Said before the first check, when nobody has said how the lights look."""
    return translated(DIALOGUES[age].untold)


def _of_cause(cause: Cause, age: Age) -> Speaker:
    return _speaker(cause.parts, age, of_lumps=cause.code not in OF_LEDS)


def _speaker(parts: Sequence[str], age: Age, of_lumps: bool) -> Speaker:
    letters = [part for part in parts if part != "pack"] if of_lumps else []
    more = dict(zip(("one", "two"), letters, strict=False))
    return Speaker(age, [] if of_lumps else parts, {}, **more)


def _of(table: Mapping[str, T], action: str, parts: Sequence[str]) -> T:
    of_led = f"{action}:led"
    return table[of_led] if of_led in table and "pack" not in parts else table[action]
