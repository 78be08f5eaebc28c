"""What the answer would be if a doubtful joint went the other way: few answers, and only other ones."""

from collections.abc import Callable
from dataclasses import replace

from circuit.inspection import inspect
from circuit.model import Joint, Sculpture

Draw = Callable[..., Sculpture]

DOUGH = """
aaaaaaaa.bbbbbbbb
aaaaaaaa.bbbbbbbb
aaaaaaaabbbbbbbbb
aaaaaaaa.bbbbbbbb
aaaaaaaa.bbbbbbbb
"""
ENTRIES = """
.................
.P.............M.
.................
.....1.....q.....
.................
"""


def with_doubt(sculpture: Sculpture, likely: bool, confidence: float = 0.6) -> Sculpture:
    """The sculpture whose joints between two pieces of conductive dough are all doubtful."""
    joints = tuple(
        replace(joint, kind="doubtful", likely_touching=likely, confidence=confidence)
        for joint in sculpture.joints
    )
    return replace(sculpture, joints=joints)


def test_the_first_answer_takes_the_likelier_side_and_the_other_is_told(draw: Draw) -> None:
    sculpture = draw(DOUGH, ENTRIES)
    joined = inspect(with_doubt(sculpture, likely=True))
    assert joined.entries["pack.plus"] == joined.entries["pack.minus"]
    (other,) = joined.otherwise
    assert other.entries["pack.plus"] != other.entries["pack.minus"]
    assert other.leds[0].state == "bright"
    apart = inspect(with_doubt(sculpture, likely=False))
    assert apart.entries["pack.plus"] != apart.entries["pack.minus"]
    assert apart.leds[0].current_A == other.leds[0].current_A
    (other,) = apart.otherwise
    assert other.entries["pack.plus"] == other.entries["pack.minus"]
    assert other.leds[0].current_A == joined.leds[0].current_A


def test_a_doubt_that_changes_nothing_is_not_offered(draw: Draw) -> None:
    dough = "aaaaaaaa.bbbbbbbb..aa\n" * 4
    entries = ".....................\n.P..1......q...M.....\n" + ".....................\n" * 2
    doubtful = with_doubt(draw(dough, entries), likely=False)
    used = {entry.piece for entry in doubtful.entries.values()}
    assert len(doubtful.joints) == 2
    (other,) = inspect(doubtful).otherwise
    assert set(doubtful.joints[other.joint].between) == used


def test_two_open_doubts_round_a_lump_without_entries_are_turned_over_together(draw: Draw) -> None:
    dough = "aaaaaa.aaa.bbbbbb\n" * 4
    entries = ".................\n.P.1.........q.M.\n" + ".................\n" * 2
    found = inspect(with_doubt(draw(dough, entries), likely=False))
    together = [o for o in found.otherwise if o.entries["pack.plus"] == o.entries["pack.minus"]]
    assert len(together) == 1


def test_doubtful_places_between_the_same_lumps_go_together(draw: Draw) -> None:
    sculpture = draw(DOUGH, ENTRIES)
    (joint,) = sculpture.joints
    twice = replace(with_doubt(sculpture, likely=True), joints=())
    sure, less = (Joint(joint.between, "doubtful", 0.0, 2.0, joint.at, True, c) for c in (0.9, 0.55))
    found = inspect(replace(twice, joints=(sure, less)))
    (other,) = found.otherwise
    assert other.joint == 1
    assert other.entries["pack.plus"] != other.entries["pack.minus"]


def test_the_most_doubtful_comes_first_and_three_are_enough(draw: Draw) -> None:
    dough = "aaaa.aaaa.aaaa.aaaa.aaaa\n" * 4
    entries = "........................\n.P1..q..2..w..3..e..4..M\n" + "........................\n" * 2
    entries = entries.replace("4", ".")
    sculpture = draw(dough, entries)
    sure = (0.9, 0.6, 0.8, 0.7)
    joints = tuple(
        replace(joint, kind="doubtful", confidence=c) for joint, c in zip(sculpture.joints, sure, strict=True)
    )
    found = inspect(replace(sculpture, joints=joints))
    assert [o.joint for o in found.otherwise] == [1, 3, 2]
