"""Suspects, the next check and what answers leave over, on sculptures drawn as text.

Odds and noise are estimated; that most unlit LEDs are backwards is common practice, no published source.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace

import pytest

from circuit.causes import PRIORS
from circuit.checks import KINDS
from circuit.errors import SculptureError
from circuit.inspection import inspect
from circuit.model import Answered, CheckAction, Enquiry, Sculpture, State

Draw = Callable[..., Sculpture]

DOUGH = "\n".join(["a" * 24] * 5 + ["#" * 24] * 2 + ["b" * 24] * 5)
ROWS = {1: {2: "P"}, 10: {2: "M"}, 3: {6: "1", 12: "2", 18: "3"}, 8: {6: "q", 12: "w", 18: "e"}}
ENTRIES = "\n".join("".join(ROWS.get(r, {}).get(c, ".") for c in range(24)) for r in range(12))


def enquiry(
    draw: Draw, seen: Mapping[str, State], *answered: tuple[CheckAction, str, str], dough: str = DOUGH
) -> Enquiry:
    told = [Answered(action, (part,), answer) for action, part, answer in answered]  # type: ignore[arg-type]
    found = inspect(draw(dough, ENTRIES, seen=dict(seen)), answered=told).enquiry
    assert found is not None
    return found


ALL_OFF: Mapping[str, State] = {"L1": "off", "L2": "off", "L3": "off"}
ONE_OFF: Mapping[str, State] = {"L1": "bright", "L2": "off", "L3": "bright"}


def chance(found: Enquiry, code: str, *parts: str) -> float:
    return sum(s.probability for s in found.suspects if s.cause.code == code and parts in ((), s.cause.parts))


def test_one_dark_light_of_three_is_most_likely_backwards(draw: Draw) -> None:
    found = enquiry(draw, ONE_OFF)
    assert found.suspects[0].cause.code == "led-backwards" and found.suspects[0].cause.parts == ("L2",)
    assert chance(found, "led-backwards", "L2") > 0.6
    assert found.next_check is not None
    assert (found.next_check.action, found.next_check.parts) == ("turn", ("L2",))
    assert chance(found, "led-backwards", "L1") < 0.01, "L1 is seen bright"


def test_when_all_are_dark_it_is_something_that_all_share(draw: Draw) -> None:
    found = enquiry(draw, ALL_OFF)
    shared = chance(found, "short-underneath") + chance(found, "pack-flat") + chance(found, "lead-loose")
    assert shared > 0.8
    assert found.next_check is not None and found.next_check.parts == ("pack",)
    assert found.next_check.answers[-1] == "unsure"


def test_a_dim_light_is_a_lead_that_rests_or_a_tired_pack(draw: Draw) -> None:
    """A lead only resting against the dough gives a dim light: common practice, no published source."""
    found = enquiry(draw, {"L1": "dim", "L2": "dim", "L3": "dim"})
    assert chance(found, "lead-loose") + chance(found, "pack-flat") > 0.7


def test_answers_move_what_is_suspected_and_the_last_can_be_taken_back(draw: Draw) -> None:
    first = enquiry(draw, ONE_OFF)
    second = enquiry(draw, ONE_OFF, ("turn", "L2", "same"))
    assert chance(second, "led-backwards", "L2") < 0.3 * chance(first, "led-backwards", "L2")
    assert second.next_check is not None and second.next_check.action != "turn"
    assert enquiry(draw, ONE_OFF) == first, "without the answer it is as before"
    unsure = enquiry(draw, ONE_OFF, ("turn", "L2", "unsure"))
    assert chance(unsure, "led-backwards", "L2") == pytest.approx(
        chance(first, "led-backwards", "L2"), abs=0.02
    )


def test_every_light_on_names_what_it_was(draw: Draw) -> None:
    found = enquiry(draw, ONE_OFF, ("turn", "L2", "all"))
    assert found.state == "named" and found.next_check is None
    assert [(cause.code, cause.parts) for cause in found.named] == [("led-backwards", ("L2",))]
    below = enquiry(draw, ALL_OFF, ("look-underneath", "pack", "all"))
    assert [(cause.code, cause.parts) for cause in below.named] == [("short-underneath", ("A", "B"))]


def test_two_things_at_once_are_both_named(draw: Draw) -> None:
    """The leads pressed in made L1 and L3 bright; L2 came on when it was turned."""
    seen: Mapping[str, State] = {"L1": "dim", "L2": "off", "L3": "dim"}
    found = enquiry(draw, seen, ("press-in", "pack", "lights"), ("turn", "L2", "all"))
    assert {cause.code for cause in found.named} == {"lead-loose", "led-backwards"}


def test_of_two_that_may_have_been_the_second_thing_none_is_named(draw: Draw) -> None:
    """Fresh cells and pressed leads seemed to change nothing; L1 was turned too early the first time."""
    steps: list[tuple[CheckAction, str, str]] = [("turn", "L1", "same"), ("press-in", "pack", "same")]
    found = enquiry(draw, ALL_OFF, *steps, ("swap-pack", "pack", "same"), ("turn", "L1", "all"))
    assert [cause.code for cause in found.named] == ["led-backwards"]
    assert 0.3 < chance(found, "pack-flat") < 0.8 and 0.2 < chance(found, "lead-loose") < 0.7


def test_it_also_goes_on_when_nothing_is_said_about_what_is_lit(draw: Draw) -> None:
    found = enquiry(draw, {})
    assert found.state == "asking" and found.next_check is not None
    assert 0.99 < sum(s.probability for s in found.suspects) < 1.6, "some have two causes"
    assert {s.cause.code for s in found.suspects} >= set(PRIORS) - {"dough-dry"}


def test_how_the_lights_look_is_wanted_first_and_only_once(draw: Draw) -> None:
    first = enquiry(draw, {})
    assert first.untold and first.next_check is not None
    after = enquiry(draw, {}, (first.next_check.action, *first.next_check.parts, "unsure"))
    assert after.state == "asking" and not after.untold
    assert not enquiry(draw, {"L1": "off"}).untold


def test_it_comes_to_an_end_when_nothing_helps(draw: Draw) -> None:
    """Whatever is asked, nothing changes: no check is asked for ever, and what is left is told."""
    told: list[tuple[CheckAction, str, str]] = []
    for _ in range(60):
        found = enquiry(draw, ONE_OFF, *told)
        if found.next_check is None:
            break
        check = found.next_check
        nothing = {"look-underneath": "nothing", "touch-beside-leads": "dark"}.get(check.action, "same")
        told.append((check.action, check.parts[0], nothing))
    assert found.next_check is None and found.state in ("named", "cannot-tell")
    assert all(told.count(one) <= 2 for one in told)


def test_an_answer_that_a_check_does_not_have_is_refused(draw: Draw) -> None:
    with pytest.raises(SculptureError, match="turn cannot be answered by across"):
        enquiry(draw, ONE_OFF, ("turn", "L2", "across"))


def test_every_kind_of_check_ends_with_cannot_tell() -> None:
    assert all(kind.answers[-1] == "unsure" and kind.seconds > 0 for kind in KINDS.values())
    assert all(1 <= len(kind.answers) <= 4 for kind in KINDS.values())


NARROW = "\n".join(["aaaaaaaa.bbbbbbbb"] + ["a" * 8 + "b" * 9] * 4)
NARROW_ENTRIES = "\n".join(["." * 17, ".P.............M.", "." * 17, "......1....q.....", "." * 17])


def doubtful(sculpture: Sculpture, likely: bool, confidence: float) -> Sculpture:
    joints = tuple(
        replace(joint, kind="doubtful", likely_touching=likely, confidence=confidence)
        for joint in sculpture.joints
    )
    return replace(sculpture, joints=joints)


def test_a_doubtful_contact_is_read_so_that_it_explains_what_is_lit(draw: Draw) -> None:
    touching = inspect(doubtful(draw(NARROW, NARROW_ENTRIES), likely=True, confidence=0.7))
    seen = {led.id: led.state for led in touching.leds}
    assert "off" in seen.values()
    dark = inspect(doubtful(draw(NARROW, NARROW_ENTRIES, seen=seen), likely=False, confidence=0.7))
    assert dark.entries["pack.plus"] == dark.entries["pack.minus"], "taken as touching"
    assert dark.other_way == (0,)
    assert dark.findings[0].level == "stop"
    assert dark.enquiry is not None
    assert dark.enquiry.suspects[0].cause.code == "contact-closed"
    lit = inspect(doubtful(draw(NARROW, NARROW_ENTRIES, seen=dict.fromkeys(seen, "bright")), True, 0.7))
    assert lit.entries["pack.plus"] != lit.entries["pack.minus"]
    assert lit.other_way == (0,) and "off" not in [led.state for led in lit.leds]


def test_a_sure_contact_is_not_read_otherwise(draw: Draw) -> None:
    seen = {"L1": "off"}
    found = inspect(doubtful(draw(NARROW, NARROW_ENTRIES, seen=seen), likely=False, confidence=0.98))
    assert found.other_way == () and found.entries["pack.plus"] != found.entries["pack.minus"]
