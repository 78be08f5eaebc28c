"""The choice of tests against published rules and examples of diagnosis, and against exhaustive search."""

from collections.abc import Sequence
from functools import cache
from itertools import combinations, pairwise, permutations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from circuit.belief import (
    LEFT_OVER_S,
    choose,
    entropy_bits,
    expected_bits,
    expected_seconds,
    groups_alike,
    posterior,
)
from circuit.belief import Test as Trial

Floats = NDArray[np.float64]


def repairs(seconds: Sequence[float]) -> list[Trial]:
    """Test i finds and mends cause i, without fail."""
    one = np.eye(len(seconds))
    return [Trial(c, np.stack([row, 1 - row]), row > 0) for c, row in zip(seconds, one, strict=True)]


def order_of(weights: Floats, tests: Sequence[Trial]) -> list[int]:
    """The order in which tests are made while none of them mends."""
    order: list[int] = []
    while len(order) < len(tests):
        rest = [i for i in range(len(tests)) if i not in order]
        best = choose(weights, [tests[i] for i in rest])
        assert best is not None
        order.append(rest[best])
        weights = posterior(weights, tests[order[-1]].chance[1])
    return order


def test_the_order_of_chance_over_cost_in_a_worked_example() -> None:
    """Kadane and Simon, Ann. Stat. 5 (1977) 549 (from memory); Heckerman, Breese and Rommelse 1995.

    p = .4 .3 .2 .1, c = 8 2 1 4: the order is 3, 2, 1, 4 with an expected cost of 7.0, the worst one 12.4.
    """
    p, tests = np.array([0.4, 0.3, 0.2, 0.1]), repairs([8, 2, 1, 4])
    order = order_of(p, tests)
    assert order == [2, 1, 0, 3]
    costs = {way: expected_seconds(p, tests, way) for way in permutations(range(4))}
    assert costs[2, 1, 0, 3] == pytest.approx(7.0) == min(costs.values())
    assert max(costs.values()) == pytest.approx(12.4)


@given(st.lists(st.tuples(st.floats(0.05, 1.0), st.floats(1.0, 60.0)), min_size=2, max_size=6))
def test_with_one_fault_the_order_is_that_of_chance_over_cost(pairs: list[tuple[float, float]]) -> None:
    """The published rule, for any chances and costs."""
    p = np.array([a for a, _ in pairs]) / sum(a for a, _ in pairs)
    tests = repairs([c for _, c in pairs])
    found = [p[i] / tests[i].seconds for i in order_of(p, tests)]
    # The last two are certain: which of them is looked at last does not change the cost.
    assert all(a >= b * (1 - 1e-9) for a, b in pairwise(found))


@given(st.floats(0.02, 0.98), st.floats(1, 50), st.floats(1, 50))
def test_two_causes(p: float, c1: float, c2: float) -> None:
    """A textbook exercise (attributed to Ross, from memory): look at cause 1 first iff p/C1 >= (1-p)/C2."""
    if abs(p / c1 - (1 - p) / c2) < 1e-9:
        return
    assert choose(np.array([p, 1 - p]), repairs([c1, c2])) == (0 if p / c1 > (1 - p) / c2 else 1)


# ---------------------------------------------------------------- a published diagnosis

BOXES = ("M1", "M2", "M3", "A1", "A2")
WILD = tuple(range(-12, 25))
"""What a faulty box may put out."""


def polybox(faulty: frozenset[str]) -> list[dict[str, int]]:
    """All values that X, Y, Z, F and G may have; A 3, B 2, C 2, D 3, E 3."""
    return [
        {"X": x, "Y": y, "Z": z, "F": f, "G": g}
        for x in (WILD if "M1" in faulty else [6])
        for y in (WILD if "M2" in faulty else [6])
        for z in (WILD if "M3" in faulty else [6])
        for f in (WILD if "A1" in faulty else [x + y])
        for g in (WILD if "A2" in faulty else [y + z])
    ]


SETS = [frozenset(chosen) for size in range(3) for chosen in combinations(BOXES, size)]


@cache
def with_what_is_seen() -> tuple[tuple[dict[str, int], ...], ...]:
    """For each set of faulty boxes the values that agree with F = 10 and G = 12."""
    return tuple(tuple(v for v in polybox(one) if v["F"] == 10 and v["G"] == 12) for one in SETS)


def polybox_weights() -> Floats:
    """Small equal chances of a fault; a faulty box puts out any value with the same chance."""
    prior = np.array([0.01 ** len(one) for one in SETS])
    size = {one: len(WILD) ** len(one) for one in SETS}
    likely = np.array([len(v) / size[one] for v, one in zip(with_what_is_seen(), SETS, strict=True)])
    return posterior(prior, likely)


def test_the_polybox_has_its_four_published_diagnoses() -> None:
    """de Kleer and Williams, Artif. Intell. 32 (1987) 97: F = 10 and G = 12 where 12 and 12 are right."""
    left = [one for one, weight in zip(SETS, polybox_weights(), strict=True) if weight > 0]
    least = {one for one in left if not any(other < one for other in left)}
    assert least == {
        frozenset({"A1"}),
        frozenset({"M1"}),
        frozenset({"A2", "M2"}),
        frozenset({"M2", "M3"}),
    }


def test_the_polybox_is_best_probed_at_x() -> None:
    """The same paper (from memory): of X, Y and Z, measuring X leaves the least entropy to be expected."""
    bits = {}
    weights = polybox_weights()
    for probe in "XYZ":
        rows = [[sum(v[probe] == value for v in values) for values in with_what_is_seen()] for value in WILD]
        chance = np.array(rows, float)
        chance /= np.maximum(chance.sum(axis=0), 1)
        chance[0, chance.sum(axis=0) == 0] = 1.0
        bits[probe] = expected_bits(weights, Trial(1.0, chance, np.zeros(len(SETS), bool)))
    assert max(bits, key=lambda probe: bits[probe]) == "X"
    assert bits["X"] > 5 * max(bits["Y"], bits["Z"])


# ---------------------------------------------------------------- information


def random_tests(seed: int, hypotheses: int, count: int, noise: float) -> tuple[Floats, list[Trial]]:
    """Weights, and tests that mend one hypothesis each or only tell two groups apart."""
    rng = np.random.default_rng(seed)
    weights = rng.dirichlet(np.ones(hypotheses))
    tests = []
    for i in range(count):
        yes = np.arange(hypotheses) == i if i < hypotheses else rng.random(hypotheses) < 0.5
        sure = np.where(yes, 1 - noise, noise)
        mends = yes if i < hypotheses else np.zeros(hypotheses, bool)
        tests.append(Trial(float(rng.uniform(5, 40)), np.stack([sure, 1 - sure]), mends))
    return weights, tests


@pytest.mark.parametrize("seed", range(8))
def test_information_is_never_negative_and_never_more_than_is_unknown(seed: int) -> None:
    """Shannon 1948: mutual information lies between 0 and either entropy."""
    weights, tests = random_tests(seed, 6, 9, 0.1)
    for test in tests:
        assert 0 <= expected_bits(weights, test) <= entropy_bits(weights) + 1e-12
        spread = [
            float(chance @ weights) * entropy_bits(posterior(weights, chance)) for chance in test.chance
        ]
        assert expected_bits(weights, test) == pytest.approx(entropy_bits(weights) - sum(spread))


def test_what_no_test_tells_apart_is_told_so() -> None:
    chance = np.array([[0.9, 0.9, 0.1, 0.2], [0.1, 0.1, 0.9, 0.8]])
    tests = [Trial(1.0, chance, np.zeros(4, bool)), Trial(1.0, np.full((2, 4), 0.5), np.zeros(4, bool))]
    assert groups_alike(tests, 4) == [[0, 1]]
    assert groups_alike([], 3) == [[0, 1, 2]]


# ---------------------------------------------------------------- against the best there is


def is_over(mass: Floats, done_at: float | None) -> bool:
    return bool(mass.sum() < 1e-9 or (done_at is not None and mass.max() >= done_at * mass.sum()))


def best_seconds(weights: Floats, tests: Sequence[Trial], done_at: float | None = None) -> float:
    """The least expected cost until nothing is left, or one thing is likely enough, over all strategies."""

    @cache
    def least(done: frozenset[int], left: tuple[float, ...]) -> float:
        mass = np.array(left)
        if is_over(mass, done_at):
            return 0.0
        options = [i for i in range(len(tests)) if i not in done]
        if not options:
            return LEFT_OVER_S * float(mass.sum())
        found = []
        for i in options:
            states = [tuple(mass * ~tests[i].undoes * chance) for chance in tests[i].chance]
            after = sum(least(done | {i}, state) for state in states)
            found.append(tests[i].seconds * float(mass.sum()) + after)
        return min(found)

    return least(frozenset(), tuple(weights))


def own_seconds(
    weights: Floats, tests: Sequence[Trial], done_at: float | None = None, done: frozenset[int] = frozenset()
) -> float:
    """The expected cost of what `choose` does."""
    if is_over(weights, done_at):
        return 0.0
    options = [i for i in range(len(tests)) if i not in done]
    pick = choose(weights / weights.sum(), [tests[i] for i in options], done_at)
    if pick is None:
        return LEFT_OVER_S * float(weights.sum())
    test = tests[options[pick]]
    rest = [weights * ~test.undoes * chance for chance in test.chance]
    after = sum(own_seconds(state, tests, done_at, done | {options[pick]}) for state in rest)
    return test.seconds * float(weights.sum()) + after


@pytest.mark.parametrize(("noise", "done_at"), [(0.0, None), (0.05, None), (0.0, 0.95), (0.05, 0.95)])
def test_the_cost_is_near_the_least_possible(noise: float, done_at: float | None) -> None:
    """Exhaustive search over all strategies with four hypotheses and six tests."""
    ratios = []
    for seed in range(12):
        weights, tests = random_tests(seed, 4, 6, noise)
        least = best_seconds(weights, tests, done_at)
        if least > 0:
            ratios.append(own_seconds(weights, tests, done_at) / least)
    assert min(ratios) >= 1 - 1e-9 and np.mean(ratios) < 1.05 and max(ratios) < 1.25


def test_what_says_the_same_need_not_be_told_apart() -> None:
    """Two severities of one cause: a cheap test that only parts the two is not worth a second."""
    part_them = np.array([[0.9, 0.1, 0.5], [0.1, 0.9, 0.5]])
    find_it = np.array([[0.95, 0.95, 0.05], [0.05, 0.05, 0.95]])
    none = np.zeros(3, bool)
    tests, weights = [Trial(5.0, part_them, none), Trial(9.0, find_it, none)], np.array([0.35, 0.35, 0.3])
    assert choose(weights, tests, 0.9) == 0
    assert choose(weights, tests, 0.9, np.array([0, 0, 1])) == 1
