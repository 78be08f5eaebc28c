"""Finger-walks on sculptures drawn as text, and against a flood fill that knows nothing of graphs."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy import ndimage

from circuit import materials
from circuit.board import lay_out, own_placing
from circuit.lumps import is_conductive
from circuit.model import Entry, Sculpture, Trace
from circuit.trace import trace_legs

Draw = Callable[..., Sculpture]
Scribble = Callable[[int], tuple[str, str]]

ROW = (
    """
    aaaaaaa##aaaaaaa##aaaaaaa
    aaaaaaa##aaaaaaa##aaaaaaa
    aaaaaaa##aaaaaaa##aaaaaaa
    aaaaaaa##aaaaaaa##aaaaaaa
    """,
    """
    .........................
    .P...1.....q...2...w...M.
    .........................
    .........................
    """,
)


def traces(sculpture: Sculpture) -> dict[str, Trace]:
    return {trace.leg: trace for trace in trace_legs(lay_out(sculpture), own_placing(sculpture))}


def with_wire(sculpture: Sculpture, a: tuple[float, float], b: tuple[float, float]) -> Sculpture:
    h = sculpture.cell_mm
    entries = {
        name: Entry(name, at, int(sculpture.grid[int(at[1] / h), int(at[0] / h)]) or None)
        for name, at in (("W1.a", a), ("W1.b", b))
    }
    wire = materials.part_by_kind("wire", "W1")
    return replace(sculpture, parts=(wire,), entries={**sculpture.entries, **entries})


def test_in_a_row_one_leg_of_each_light_has_a_free_way(draw: Draw) -> None:
    found = traces(draw(*ROW))
    first, second = found["L1.long"], found["L2.short"]
    assert first.reaches == ("pack.plus",) and first.path[0] == (11, 3) and first.path[-1] == (3, 3)
    assert second.reaches == ("pack.minus",) and second.path[-1] == (47, 3)
    for leg, other in (("L1.short", "L2"), ("L2.long", "L1")):
        assert found[leg].reaches == () and found[leg].path == ()
        assert found[leg].crosses == (other,)
        assert found[leg].lumps == ("C",)


def test_a_walk_may_follow_a_wire(draw: Draw) -> None:
    found = traces(with_wire(draw(*ROW), (23, 7), (37, 7)))
    assert found["L1.short"].reaches == ("pack.minus",)
    assert found["L1.short"].lumps == ("B", "C")
    assert {(23, 7), (37, 7)} <= set(found["L1.short"].path)
    assert found["L2.long"].crosses == ("L1",) and found["L2.long"].reaches == ("pack.minus",)


def test_an_open_switch_leads_nowhere(draw: Draw) -> None:
    wired = with_wire(draw(*ROW), (23, 7), (37, 7))
    opened = replace(wired, parts=(replace(materials.part_by_kind("switch", "W1"), closed=False),))
    assert traces(opened)["L1.short"].reaches == ()


def test_a_backwards_light_reaches_the_other_lead(draw: Draw) -> None:
    dough, entries = ROW
    found = traces(draw(dough, entries.translate(str.maketrans("1q", "q1"))))
    assert found["L1.short"].reaches == ("pack.plus",) and found["L1.short"].path == ()
    assert found["L1.short"].crosses == ()  # only across itself


def test_a_leg_beside_the_dough_reaches_nothing(draw: Draw) -> None:
    dough, entries = ("\n".join("." + line for line in text.split()) for text in ROW)
    found = traces(draw(dough, entries.replace("1", ".").replace("..P", "1.P")))
    assert found["L1.long"] == Trace("L1.long", "pack.plus", (), (), (), ())


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.integers(0, 10**6))
def test_walks_are_what_a_flood_fill_finds(draw: Draw, scribble: Scribble, seed: int) -> None:
    sculpture = draw(*scribble(seed), "red white blue green")
    conducts = np.isin(sculpture.grid, [p for p in sculpture.dough_of if is_conductive(sculpture, p)])
    flood, _ = ndimage.label(conducts)
    h = sculpture.cell_mm

    def region(name: str) -> int:
        entry = sculpture.entries[name]
        inside = is_conductive(sculpture, entry.piece)
        return int(flood[int(entry.at[1] / h), int(entry.at[0] / h)]) if inside else 0

    for leg, trace in traces(sculpture).items():
        home = region(leg)
        expected = tuple(lead for lead in ("pack.plus", "pack.minus") if home and region(lead) == home)
        assert trace.reaches == expected
        assert bool(trace.path) == (trace.wanted in expected)
        for x, y in trace.path:
            assert flood[int(y / h), int(x / h)] == home
