"""Which side of a doubtful contact is the likelier: by its own chance, and by LEDs that stand astride."""

import math

import pytest

from vision.doubts import LED_ASTRIDE, weighed
from vision.model import Contact, Entry, Mark, Piece

PIECES = (*(Piece(i, 1, "conductive", 100.0, ()) for i in (1, 2, 3)), Piece(9, 2, "insulating", 9.0, ()))


def doubtful(a: int, b: int, chance: float, hidden: float = 1.0) -> Contact:
    """A doubtful contact that touches with this chance."""
    return Contact((a, b), "doubtful", 0.0, 2.0, (0.0, 0.0), chance > 0.5, max(chance, 1 - chance), hidden)


def chance_of(contact: Contact) -> float:
    return contact.confidence if contact.likely else 1 - contact.confidence


def led(name: str, piece: int, other: int, at: float) -> tuple[dict[str, Entry], list[Mark]]:
    """Entries and marks of an LED with its legs in two pieces."""
    p, q = (at, 0.0), (at, 5.0)
    names = (f"{name}.long", f"{name}.short")
    marks = [Mark(names[0], "leg", p, q), Mark(names[1], "leg", q, p)]
    pieces = dict(zip(names, (piece, other), strict=True))
    return {n: Entry(n, (0.0, 0.0), own, None, 0.0) for n, own in pieces.items()}, marks


@pytest.mark.parametrize("chance", [0.1, 0.45, 0.6, 0.95])
def test_without_leds_a_doubt_keeps_its_own_chance(chance: float) -> None:
    (out,) = weighed([doubtful(1, 2, chance)], PIECES, {}, [])
    assert chance_of(out) == pytest.approx(chance)
    assert out.likely == (chance > 0.5)


def test_an_led_astride_speaks_against_a_touch_under_it() -> None:
    entries, marks = led("L1", 1, 2, 0.0)
    (out,) = weighed([doubtful(1, 2, 0.6)], PIECES, entries, marks)
    odds = math.log(0.6 / 0.4) - LED_ASTRIDE
    assert chance_of(out) == pytest.approx(1 / (1 + math.exp(-odds)))
    assert not out.likely
    (sure,) = weighed([doubtful(1, 2, 0.95)], PIECES, entries, marks)
    assert sure.likely
    (plain,) = weighed([doubtful(1, 2, 0.6, hidden=0.0)], PIECES, entries, marks)
    assert plain.likely and plain.confidence == pytest.approx(0.6)


def test_an_led_whose_legs_surely_share_a_lump_says_nothing() -> None:
    entries, marks = led("L1", 1, 2, 0.0)
    touching = Contact((1, 2), "touching", 0.0, 9.0, (0.0, 0.0), True)
    out = weighed([touching, doubtful(2, 3, 0.6)], PIECES, entries, marks)
    assert out[0] == touching
    assert out[1].likely and out[1].confidence == pytest.approx(0.6)


def test_an_led_across_two_doubts_makes_them_depend_on_each_other() -> None:
    entries, marks = led("L1", 1, 3, 0.0)
    contacts = [doubtful(1, 2, 0.6), doubtful(2, 3, 0.6)]
    one, two = (chance_of(c) for c in weighed(contacts, PIECES, entries, marks))
    assert one == pytest.approx(two)
    assert one < 0.6
    both = 0.36 * math.exp(-LED_ASTRIDE)
    assert one == pytest.approx((0.24 + both) / (0.16 + 0.48 + both))


def test_doubts_between_the_same_lumps_are_one_place() -> None:
    touching = Contact((1, 2), "touching", 0.0, 9.0, (0.0, 0.0), True)
    out = weighed([touching, doubtful(1, 3, 0.8), doubtful(2, 3, 0.3)], PIECES, {}, [])
    assert [c.confidence for c in out[1:]] == pytest.approx([0.8, 0.8])
    assert [c.likely for c in out[1:]] == [True, False]


def test_many_doubts_are_weighed_in_no_time() -> None:
    pieces = tuple(Piece(i, 1, "conductive", 100.0, ()) for i in range(1, 40))
    contacts = [doubtful(i, i + 1, 0.7) for i in range(1, 39)]
    out = weighed(contacts, pieces, {}, [])
    assert all(c.likely and c.confidence == pytest.approx(0.7) for c in out)
