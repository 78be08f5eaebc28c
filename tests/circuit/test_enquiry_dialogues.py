"""Hidden faults, put in by ngspice, are found by asking a simulated helper; and the judge is judged too."""

import os
import shutil
from collections.abc import Callable

import numpy as np
import pytest

from circuit.board import lay_out, own_placing
from circuit.inspection import inspect
from circuit.model import Sculpture
from circuit.outcome import operate
from sample_images.studio.dialogues import Dialogue, Helper, asked, in_order
from sample_images.studio.hidden import Puzzle, hidden_in, truth_of
from sample_images.studio.hidden_truth import Hidden

pytestmark = pytest.mark.skipif(
    shutil.which("ngspice") is None and not os.environ.get("CI"),
    reason="ngspice is not installed; the judge needs it",
)
Draw = Callable[..., Sculpture]

ABREAST = ("""
    aaaaaaaaaaaaaaaaaaaa
    aaaaaaaaaaaaaaaaaaaa
    aaaaaaaaaaaaaaaaaaaa
    ####################
    aaaaaaaaaaaaaaaaaaaa
    aaaaaaaaaaaaaaaaaaaa
    aaaaaaaaaaaaaaaaaaaa
    """, """
    ....................
    .P....1....2....3...
    ....................
    ....................
    ....................
    .M....q....w....e...
    ....................
    """)  # fmt: skip
ROW = ("""
    aaaaaa#aaaaaa#aaaaaa
    aaaaaa#aaaaaa#aaaaaa
    aaaaaa#aaaaaa#aaaaaa
    aaaaaa#aaaaaa#aaaaaa
    aaaaaa#aaaaaa#aaaaaa
    """, """
    ....................
    .P...............M..
    .....1.q....2..w....
    ....................
    ....................
    """)  # fmt: skip


def dialogues(sculpture: Sculpture, seeds: range) -> list[tuple[Puzzle, Dialogue, Dialogue]]:
    truth = truth_of(sculpture)
    made = [puzzle for puzzle in (hidden_in(truth, seed) for seed in seeds) if puzzle is not None]
    return [
        (
            puzzle,
            asked(puzzle, lambda done, own=puzzle.sculpture: inspect(own, answered=tuple(done)).enquiry),  # type: ignore[misc]
            in_order(puzzle),
        )
        for puzzle in made
    ]


def test_most_hidden_faults_are_found_with_few_checks(draw: Draw) -> None:
    """The benchmark `bench_enquiry` tells how often, on hundreds of sculptures."""
    rows = [*dialogues(draw(*ABREAST), range(8)), *dialogues(draw(*ROW), range(20, 26))]
    assert len(rows) >= 12
    right = [dialogue.right for _, dialogue, _ in rows]
    assert np.mean(right) >= 0.75, [(p.faults, d) for p, d, _ in rows if not d.right]
    checks, usual = (
        np.mean([len(d.checks) for d in side]) for side in zip(*[r[1:] for r in rows], strict=True)
    )
    assert checks < usual


@pytest.mark.parametrize("scene", [ABREAST, ROW])
def test_the_judge_agrees_with_the_solver_when_nothing_is_wrong(draw: Draw, scene: tuple[str, str]) -> None:
    sculpture = draw(*scene)
    own = operate(lay_out(sculpture), own_placing(sculpture)).led_A
    for led, current in truth_of(sculpture).led_A(()).items():
        assert own[led] == pytest.approx(current, rel=0.05)


def test_faults_do_what_they_are_called(draw: Draw) -> None:
    """Side by side, one LED out, dead or turned leaves the others lit; a short puts all out.

    A lead that only rests makes all dim. Common practice, no published source.
    """
    truth = truth_of(draw(*ABREAST))
    should = truth.led_A(())
    for code in ("led-backwards", "led-dead", "leg-loose"):
        now = truth.led_A([Hidden(code, ("L2",), ohm=np.inf)])  # type: ignore[arg-type]
        assert now["L2"] < 1e-6 and now["L1"] > should["L1"] and now["L3"] > should["L3"]
    assert max(truth.led_A([Hidden("pack-flat", ("pack",), ohm=np.inf)]).values()) < 1e-6
    dim = truth.led_A([Hidden("lead-loose", ("pack",), ohm=400.0)])
    assert all(a < 5e-3 and a > 0.1 * should[led] for led, a in dim.items())
    dry = truth.led_A([Hidden("dough-dry", ("A",), share=0.1)])
    assert all(dry[led] < a for led, a in should.items())


def test_what_a_helper_mends_stays_mended(draw: Draw) -> None:
    truth = truth_of(draw(*ABREAST))
    loose, turned = Hidden("lead-loose", ("pack",), ohm=np.inf), Hidden("led-backwards", ("L1",))
    sculpture = truth.sculpture
    helper = Helper(
        Puzzle(0, sculpture, truth, (loose, turned), truth.led_A(()), "right"), np.random.default_rng(0)
    )
    answers = ("all", "lights", "same", "unsure")
    assert helper.does("turn", ("L1",), answers)[1] == "same" and turned in helper.left
    assert helper.does("press-in", ("pack",), answers)[1] == "lights" and helper.left == (turned,)
    assert helper.does("swap-pack", ("pack",), answers)[1] == "same"
    assert helper.does("turn", ("L1",), answers)[1] == "all" and helper.all_well
