"""From soft chances to pieces and contacts: slabs of known geometry, blurred and noisy.

The chance of dough at signed distance d from a straight rim blurred by a Gaussian of spread s is
Phi(d / s); so for a slit of width w the integral of 1 - chance across it is w, whatever s.
"""

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.special import ndtr

from vision.bodies import ground_of
from vision.contacts import find_contacts
from vision.corrections import corrected
from vision.entries import find_entries
from vision.grid import Grid
from vision.model import Colour, Contact, Entry, Line, Mark, Piece
from vision.pieces import list_pieces, number_pieces
from vision.seen import THINGS, Seen
from vision.table_view import view_from_mm_per_px

CELL_MM, SIDE = 0.2, 220
CONDUCTS = np.array([False, True, True, False])
ROLES = ("conductive", "conductive", "insulating")
ANGLES = (0.0, 10.0, 30.0, 45.0)

Plane = NDArray[np.float64]
Result = tuple[tuple[Piece, ...], tuple[Contact, ...]]


def across_and_along(angle: float) -> tuple[Plane, Plane]:
    """Distance in mm from the middle across a direction and along it, (SIDE, SIDE) each."""
    x, y = np.meshgrid(*[(np.arange(SIDE) - (SIDE - 1) / 2) * CELL_MM] * 2)
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    return c * x + s * y, c * y - s * x


def seen_as(covers: list[Plane], led: Plane | None = None, noise: float = 0.03) -> Seen:
    """What is seen where the doughs cover so much (SIDE, SIDE), with some noise."""
    rng = np.random.default_rng(5)
    doughs = np.clip(np.stack(covers), 0, 1)
    rest = np.clip(1 - doughs.sum(axis=0, keepdims=True), 0, None)
    chance = np.concatenate([rest, doughs]) + np.abs(rng.normal(0, noise / 2, (len(covers) + 1, SIDE, SIDE)))
    chance /= chance.sum(axis=0)
    things = np.zeros((len(THINGS), SIDE, SIDE), np.float32)
    if led is not None:
        things[THINGS.index("led")] = led
    view = view_from_mm_per_px(CELL_MM)
    return Seen(chance.astype(np.float32), things, np.zeros((SIDE, SIDE), np.float32), CELL_MM, view)


def found(seen: Seen, *marks: Mark) -> tuple[Result, dict[str, Entry]]:
    ground = ground_of(seen, CONDUCTS[: len(seen.chance)])
    ids = number_pieces(ground)
    grid = Grid(ids, ground, CELL_MM, seen.view)
    pieces = list_pieces(ids, ground, ROLES[: len(seen.chance) - 1], CELL_MM, seen.view)
    return (pieces, find_contacts(grid, pieces)), dict(find_entries(grid, pieces, marks))


def slabs(gap_mm: float, angle: float, blur_mm: float, long_mm: float = 24) -> tuple[Plane, Plane]:
    """Covers of two slabs 12 mm wide and `long_mm` long with a slit between them."""
    u, v = across_and_along(angle)
    ends = ndtr((long_mm / 2 - np.abs(v)) / blur_mm)
    left = ndtr((-gap_mm / 2 - u) / blur_mm) * ndtr((u + gap_mm / 2 + 12) / blur_mm) * ends
    right = ndtr((u - gap_mm / 2) / blur_mm) * ndtr((gap_mm / 2 + 12 - u) / blur_mm) * ends
    return left, right


def the_contact(result: Result) -> Contact:
    ((contact,),) = (result[1],)
    return contact


@pytest.mark.parametrize("angle", ANGLES)
@pytest.mark.parametrize("blur_mm", [0.25, 0.4])
@pytest.mark.parametrize("gap_mm", [1.0, 1.5, 3.0])
def test_width_of_a_slit_is_measured_finer_than_a_cell(gap_mm: float, blur_mm: float, angle: float) -> None:
    left, right = slabs(gap_mm, angle, blur_mm)
    contact = the_contact(found(seen_as([left + right]))[0])
    assert contact.kind == "gap" or (contact.kind == "doubtful" and not contact.likely)
    assert contact.gap_mm == pytest.approx(gap_mm, abs=0.1)
    assert contact.length_mm == pytest.approx(24, rel=0.03)
    assert contact.at == pytest.approx((SIDE / 2, SIDE / 2), abs=60)


@pytest.mark.parametrize("angle", ANGLES)
def test_two_colours_pressed_together_touch_and_their_border_is_measured(angle: float) -> None:
    left, right = slabs(0.0, angle, 0.3)
    contact = the_contact(found(seen_as([left, right]))[0])
    assert (contact.kind, contact.gap_mm) == ("touching", 0.0)
    assert contact.length_mm == pytest.approx(24, rel=0.03)
    assert contact.at == pytest.approx((SIDE / 2, SIDE / 2), abs=8)


def test_a_round_border_is_measured() -> None:
    u, v = across_and_along(0)
    inside = ndtr((9 - np.hypot(u, v)) / 0.3)
    ring = ndtr((16 - np.hypot(u, v)) / 0.3) - inside
    contact = the_contact(found(seen_as([inside, ring]))[0])
    assert contact.length_mm == pytest.approx(2 * math.pi * 9, rel=0.03)


@pytest.mark.parametrize("angle", ANGLES)
@pytest.mark.parametrize(("wide_mm", "kinds"), [(0.8, ("doubtful", "touching")), (3.0, ("one piece",))])
def test_a_bridge_of_three_millimetres_joins_and_a_narrow_one_has_its_place(
    wide_mm: float, kinds: tuple[str, ...], angle: float
) -> None:
    u, v = across_and_along(angle)
    left, right = slabs(2.0, angle, 0.3)
    bridge = ndtr((wide_mm / 2 - np.abs(v)) / 0.3) * (np.abs(u) < 3)
    pieces, contacts = found(seen_as([np.maximum(left + right, bridge)]))[0]
    if kinds == ("one piece",):
        assert (len(pieces), contacts) == (1, ())
        return
    (contact,) = contacts
    assert contact.kind in kinds
    assert contact.at == pytest.approx((SIDE / 2, SIDE / 2), abs=8)
    assert contact.length_mm == pytest.approx(wide_mm, abs=0.5)


def faint_slit(least: float) -> list[Plane]:
    """Two slabs with a chance of dough between them that is nowhere below `least`."""
    left, right = slabs(1.0, 20, 0.3)
    u, v = across_and_along(20)
    box = ndtr((12 - np.abs(v)) / 0.3) * ndtr((12 - np.abs(u)) / 0.3)
    return [np.maximum(left + right, least * box)]


def test_the_surer_the_dough_between_the_likelier_a_touch() -> None:
    sure = []
    for least in (0.1, 0.3, 0.5, 0.75):
        contact = the_contact(found(seen_as(faint_slit(least), noise=0.002))[0])
        assert contact.kind == "doubtful"
        sure.append(contact.confidence if contact.likely else 1 - contact.confidence)
    assert sure == sorted(sure)
    assert sure[0] < 0.2 and sure[-1] > 0.5


def test_dough_that_joins_under_an_led_only_is_doubtful() -> None:
    left, right = slabs(2.0, 0, 0.3)
    u, v = across_and_along(0)
    led = np.hypot(u, v) < 2.5
    joined = np.where(np.hypot(u, v) < 2.4, 0.97, left + right)
    contact = the_contact(found(seen_as([joined], led.astype(float), noise=0.002))[0])
    assert contact.kind == "doubtful"
    open_sky = the_contact(found(seen_as([left + right], led.astype(float)))[0])
    assert open_sky.kind == "gap"


def test_a_sure_wall_between_leaves_no_contact_and_a_thin_one_that_may_be_open_is_doubtful() -> None:
    left, right = slabs(1.5, 30, 0.3)
    u, v = across_and_along(30)
    wall = ndtr((0.75 - np.abs(u)) / 0.3) * ndtr((12 - np.abs(v)) / 0.3)
    none = np.zeros_like(wall)
    pieces, contacts = found(seen_as([left + right, none, wall], noise=0.002))[0]
    conductive = {piece.id for piece in pieces if piece.role == "conductive"}
    assert not [c for c in contacts if {*c.between} <= conductive]
    hole = 0.4 * np.exp(-(v**2) / 2) * (np.abs(u) < 2)
    weak = [np.maximum(left + right, hole), none, np.minimum(wall, 1 - hole)]
    pieces, contacts = found(seen_as(weak, noise=0.002))[0]
    (doubt,) = [c for c in contacts if {*c.between} <= {p.id for p in pieces if p.role == "conductive"}]
    assert doubt.kind == "doubtful" and not doubt.likely
    assert doubt.at == pytest.approx((SIDE / 2, SIDE / 2), abs=6)


def foot(x_mm: float, partner_mm: float) -> Mark:
    """A leg at (x, 0) mm from the middle, its partner on the same line."""
    middle = SIDE * CELL_MM / 2
    return Mark(
        "L1.long",
        "leg",
        ((x_mm + middle) / CELL_MM, middle / CELL_MM),
        ((partner_mm + middle) / CELL_MM, middle / CELL_MM),
    )


@pytest.mark.parametrize("x_mm", [-4.0, -1.5, -0.7])
def test_a_leg_belongs_to_the_side_away_from_its_partner(x_mm: float) -> None:
    left, right = slabs(1.0, 0, 0.3)
    (pieces, _), entries = found(seen_as([left + right]), foot(x_mm, 3.0))
    leftmost = min(pieces, key=lambda piece: min(x for x, _ in piece.outline))
    assert entries["L1.long"].piece == leftmost.id


def test_a_leg_on_the_table_misses_and_one_near_a_second_body_is_not_sure() -> None:
    left, right = slabs(1.0, 0, 0.3)
    seen = seen_as([left + right])
    _, entries = found(seen, foot(-15.5, -8))
    assert entries["L1.long"].piece is None
    assert entries["L1.long"].off_mm == pytest.approx(3.0, abs=0.25)
    _, entries = found(seen, foot(-6, 3))
    assert entries["L1.long"].sure
    _, entries = found(seen, foot(0.4, 3))
    assert not entries["L1.long"].sure


def corrected_contacts(seen: Seen, *lines: Line) -> tuple[Contact, ...]:
    """The contacts between conductive pieces after the helper's cuts and joins."""
    palette = [Colour("aqua", "conductive", ())]
    ground = ground_of(seen, CONDUCTS[:2])
    _, ground = corrected(ground.labels, ground, lines, palette, CELL_MM, seen.view)
    ids = number_pieces(ground)
    grid = Grid(ids, ground, CELL_MM, seen.view)
    return find_contacts(grid, list_pieces(ids, ground, ROLES[:1], CELL_MM, seen.view))


def test_a_join_of_the_helper_ends_a_doubt_and_a_cut_makes_a_gap() -> None:
    doubtful = seen_as(faint_slit(0.5), noise=0.002)
    u, v = across_and_along(20)
    row, col = (int(k) for k in np.unravel_index(np.argmin(np.hypot(u + 4, v)), u.shape))
    other = (SIDE - 1 - col, SIDE - 1 - row)
    assert [c.kind for c in corrected_contacts(doubtful)] == ["doubtful"]
    assert corrected_contacts(doubtful, Line("join", ((col, row), other))) == ()
    whole = seen_as([sum(slabs(0.0, 0, 0.3))])
    assert corrected_contacts(whole) == ()
    cut = Line("cut", ((SIDE / 2, 20.0), (SIDE / 2, SIDE - 20.0)))
    (gap,) = corrected_contacts(whole, cut)
    assert (gap.kind, gap.likely) == ("gap", False)
    assert 0 < gap.gap_mm < 0.7


def test_specks_are_no_pieces() -> None:
    left, right = slabs(3.0, 0, 0.3)
    speckled = left + right
    speckled[20:23, 20:23] = 1
    speckled[100:103, 70:73] = 0
    pieces, _ = found(seen_as([speckled]))[0]
    assert len(pieces) == 2
