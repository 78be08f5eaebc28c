"""How near the choice of checks comes to the best there is: `python tests/benchmarks/best_strategy.py`.

A dialogue ends well when what was wrong is mended, or when one hypothesis is likely enough; each test is made
at most once, and what is then still open costs extra. The best strategy is found by dynamic programming over
all sets of answers; small cases only.
"""

import argparse
from collections.abc import Callable, Sequence
from functools import cache, partial

import numpy as np
from numpy.typing import NDArray

from circuit.belief import LEFT_OVER_S, Test, choose, expected_bits

Floats = NDArray[np.float64]
Policy = Callable[[Floats, Sequence[Test]], int | None]
Given = tuple[tuple[int, int], ...]
LEAST = 1e-12


def best_expected_seconds(weights: Floats, tests: Sequence[Test], done_at: float) -> float:
    """The least expected seconds over all strategies; `done_at` above 1: only mending ends a dialogue."""

    @cache
    def least(given: Given) -> float:
        left = _left(weights, tests, given)
        mass = float(left.sum())
        if _ended(left, done_at):
            return 0.0
        options = [i for i in range(len(tests)) if i not in dict(given)]
        if not options:
            return LEFT_OVER_S * mass
        return min(
            tests[i].seconds * mass
            + sum(least(tuple(sorted((*given, (i, a))))) for a in range(len(tests[i].chance)))
            for i in options
        )

    return least(())


def strategy_seconds(policy: Policy, weights: Floats, tests: Sequence[Test], done_at: float) -> float:
    """The expected seconds of a policy, over all answers."""

    def after(given: Given) -> float:
        left = _left(weights, tests, given)
        mass = float(left.sum())
        if _ended(left, done_at):
            return 0.0
        options = [i for i in range(len(tests)) if i not in dict(given)]
        pick = policy(left / mass, [tests[i] for i in options]) if options else None
        if pick is None:
            return LEFT_OVER_S * mass
        i = options[pick]
        return tests[i].seconds * mass + sum(after((*given, (i, a))) for a in range(len(tests[i].chance)))

    return after(())


def _left(weights: Floats, tests: Sequence[Test], given: Given) -> Floats:
    """Weights of what is still wrong, together with these answers (H,)."""
    left = weights
    for i, answer in given:
        left = left * tests[i].chance[answer] * ~tests[i].undoes
    return left


def _ended(left: Floats, done_at: float) -> bool:
    mass = left.sum()
    return bool(mass < LEAST or left.max() >= done_at * mass)


def most_bits(weights: Floats, tests: Sequence[Test]) -> int | None:
    """The test with the most bits a second."""
    return int(np.argmax([expected_bits(weights, test) / test.seconds for test in tests])) if tests else None


def random_case(seed: int, hypotheses: int = 5, count: int = 5) -> tuple[Floats, list[Test]]:
    """Weights, and tests of which three mend one hypothesis each and the others tell two groups apart."""
    rng = np.random.default_rng([seed, 81])
    weights = rng.dirichlet(np.ones(hypotheses))
    wrong, unsure = (0.03, 0.05) if seed % 2 else (0.0, 0.0)
    tests = []
    for i in range(count):
        yes = np.arange(hypotheses) == i if i < 3 else rng.random(hypotheses) < 0.5
        told = np.where(yes, 1 - unsure - wrong, wrong)
        chance = np.stack([told, 1 - unsure - told, np.full(hypotheses, unsure)])
        tests.append(Test(float(rng.choice([8, 10, 12, 20, 25, 45])), chance, yes & (i < 3)))
    return weights, tests


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=40)
    told = parser.parse_args()
    for done_at in (0.95, 2.0):
        policies: dict[str, Policy] = {
            "choose": partial(choose, done_at=done_at if done_at < 1 else None),
            "most bits a second": most_bits,
        }
        ratios: dict[str, list[float]] = {name: [] for name in policies}
        for seed in range(told.cases):
            weights, tests = random_case(seed)
            least = best_expected_seconds(weights, tests, done_at)
            for name, policy in policies.items():
                if least > 0:
                    ratios[name].append(strategy_seconds(policy, weights, tests, done_at) / least)
        for name, own in ratios.items():
            end = "named or mended" if done_at < 1 else "mended"
            print(f"{end}: {name} {np.mean(own):.3f} of the least on average, {max(own):.3f} at worst")


if __name__ == "__main__":
    main()
