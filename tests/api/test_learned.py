"""What a mended fault teaches: sentences for each kind and age, short, in the first person, without blame."""

import re
from typing import Any, get_args

import pytest

from api.paper.learned import FOUND, HOW, LEARNED, MOST, ROUND_A_LIGHT, found_how, learned, mended
from api.schemas import FindingOut, PhotoOut, Report
from api.wording import TABLES
from api.wording.sentences import Age

AGES: tuple[Age, ...] = get_args(Age)
SENTENCE = re.compile(r"(?<=[.?])\s+")
CODES = {key.partition(":")[0] for key in TABLES["9-12"].why}
BLAME = {"wrong", "mistake", "forgot", "bad", "error", "fault", "should", "you", "your"}


def finding(code: str, *parts: str, level: str = "fix") -> FindingOut:
    told: dict[str, Any] = {"code": code, "level": level, "parts": list(parts), "at": (1, 1), "path": []}
    return FindingOut.model_validate(
        {**told, "cut": None, "cut_mm": None, "why": "", "ask": "", "look": "", "do": ""}
    )


def report(*findings: FindingOut, notes: tuple[FindingOut, ...] = ()) -> Report:
    photo = PhotoOut(width=400, height=300, mm_per_px=1.0, true_scale=False, labels="l.png")
    return Report(photo=photo, pieces=[], contacts=[], findings=list(findings), notes=list(notes))


def test_every_kind_of_finding_teaches_something() -> None:
    assert set(LEARNED) == CODES
    assert set(HOW) <= CODES
    assert set(HOW.values()) <= set(FOUND)
    for code in CODES:
        assert len(found_how([finding(code)])) >= 3


@pytest.mark.parametrize("age", AGES)
def test_sentences_are_as_short_as_the_age_can_read(age: Age) -> None:
    table = TABLES[age]
    for texts in (*LEARNED.values(), ROUND_A_LIGHT):
        for one in SENTENCE.split(texts[age]):
            assert len(one.split()) <= table.most_words, one
            assert one[0].isupper()
            assert one[-1] in ".?"
            assert not BLAME & set(re.findall(r"[a-z]+", one.lower())), one
            if not table.numbers:
                assert not re.search(r"\d", one)


def test_steps_are_short_and_the_pack_is_unplugged_before_anything_is_mended() -> None:
    for way, steps in FOUND.items():
        assert all(
            len(step.split()) <= 9 and step.startswith(("I ", "It ", "In ", "The ", "One ", "Two ", "After "))
            for step in steps
        )
        assert ("I unplugged the pack." in steps[:-1]) == (way != "look")


def test_only_what_is_gone_was_mended() -> None:
    turned, other, thin = finding("led-backwards", "L1"), finding("led-backwards", "L2"), finding("thin-wall")
    before, after = report(turned, other, notes=(thin,)), report(other)
    assert mended(before, after) == (turned, thin)
    assert mended(before, before) == ()
    assert mended(after, before) == ()
    # Of two alike one is left.
    assert len(mended(report(thin, thin), report(thin))) == 1


def test_each_thing_is_learned_once_and_a_few_are_enough() -> None:
    faults = [
        finding("led-backwards", "L1"),
        finding("led-backwards", "L2"),
        finding("leg-out"),
        finding("thin-wall"),
    ]
    told = learned(faults, "9-12")
    assert told == (LEARNED["led-backwards"]["9-12"], LEARNED["leg-out"]["9-12"])
    assert len(told) == MOST
    assert learned([finding("a-code-of-tomorrow")], "6-8") == ()


def test_a_short_of_one_light_is_not_one_of_the_pack() -> None:
    for code in ("short-bridge", "short-round-the-end"):
        pack, light = finding(code, level="stop"), finding(code, level="fix")
        assert learned([pack], "13+") != learned([light], "13+") == (ROUND_A_LIGHT["13+"],)
        assert found_how([pack])[0] == "I put a finger on the red lead."
        assert found_how([light])[0] == "I put a finger beside a dark light."
    assert found_how([]) == ()
