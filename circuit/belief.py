"""Which test to make next: hypotheses, tests with noisy answers, information, and expected cost.

Knows nothing of dough. A test may also mend: of a hypothesis that it undoes, nothing is left afterwards.

Notation: H hypotheses; C tests; A answers; S states of knowledge.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LEFT_OVER_S = 60.0
"""What a hypothesis costs that no test undoes (estimated)."""
ALIKE = 1e-6


@dataclass(frozen=True)
class Test:
    """Something to find out, or to mend.

    chance  (A, H) chance of each answer under each hypothesis; columns sum to 1
    undoes  (H,) hypotheses of which nothing is left once it is done
    """

    seconds: float
    chance: Floats
    undoes: NDArray[np.bool_]


def posterior(weights: Floats, chance: Floats) -> Floats:
    """Weights (H,) after an answer with this chance under each hypothesis (H,); they sum to 1.

    An answer that no hypothesis allows changes nothing.
    """
    product = weights * chance
    total = product.sum()
    return np.asarray(product / total if total > 0 else weights / weights.sum())


def entropy_bits(weights: Floats) -> float:
    """What is not known yet [bit]."""
    return float(_bits(weights))


def expected_bits(weights: Floats, test: Test) -> float:
    """What a test is expected to tell [bit]: the mutual information of its answer and the hypothesis."""
    return float(_bits(test.chance @ weights) - _bits(test.chance.T) @ weights)


def _bits(chance: Floats) -> Floats:
    """Entropy along the last axis [bit]."""
    return np.asarray(-(chance * np.log2(np.where(chance > 0, chance, 1.0))).sum(axis=-1))


def expected_seconds(weights: Floats, tests: Sequence[Test], order: Sequence[int]) -> float:
    """Expected cost of repair when tests are made in this order until nothing is left.

    The sum of c_i P(not mended before i): Kadane and Simon, Ann. Stat. 5 (1977) 549 (from memory);
    Heckerman, Breese and Rommelse, Commun. ACM 38(3) (1995) 49.
    """
    left, total = weights.copy(), 0.0
    for i in order:
        total += tests[i].seconds * float(left.sum())
        left = left * ~tests[i].undoes
    return total


def choose(
    weights: Floats,
    tests: Sequence[Test],
    done_at: float | None = None,
    says: NDArray[np.intp] | None = None,
) -> int | None:
    """The next test: the one after which the expected cost is least, its own seconds included.

    One step is looked ahead, over all answers. From there on tests go by chance over cost until nothing is
    left (Heckerman, Breese and Rommelse 1995); with one fault and tests that mend, this is the order of
    chance over cost. With `done_at` it is also over when one thing is so likely, and what is not known yet
    [bit] may instead be found out at the best rate there is now, whichever is less; `says` (H,): hypotheses
    with the same number say the same thing. None without tests.
    """
    if not tests:
        return None
    seconds = np.array([test.seconds for test in tests])
    undoes = np.array([test.undoes for test in tests])
    most = max(len(test.chance) for test in tests)
    states = np.concatenate([_after(weights, test, most) for test in tests])
    left = _repair_seconds(states, seconds, undoes)
    if done_at is None:
        return int(np.argmin(seconds + left.reshape(len(tests), most).sum(axis=1)))
    things = np.arange(len(weights)) if says is None else np.unique(says, return_inverse=True)[1]
    said = (things[:, None] == np.arange(things.max() + 1)).astype(float)
    named = states @ said
    open_ = named.max(axis=1) < done_at * states.sum(axis=1)
    unknown = np.where(open_, _open_bits(named), 0.0).reshape(len(tests), most).sum(axis=1)
    rate = float(((_open_bits(weights @ said) - unknown) / seconds).max())
    repair = np.where(open_, left, 0.0).reshape(len(tests), most).sum(axis=1)
    return int(np.argmin(seconds + (np.minimum(repair, unknown / rate) if rate > 0 else repair)))


def _after(weights: Floats, test: Test, most: int) -> Floats:
    """What is left after each answer (most, H), with the chance of the answer; no such answer: 0."""
    states = np.zeros((most, len(weights)))
    states[: len(test.chance)] = test.chance * weights * ~test.undoes
    return states


def _open_bits(states: Floats) -> Floats:
    """Entropy along the last axis [bit] of weights that need not sum to 1, times their sum."""
    total = states.sum(axis=-1)
    return np.asarray(_bits(states) + total * np.log2(np.where(total > 0, total, 1.0)))


def _repair_seconds(states: Floats, seconds: Floats, undoes: NDArray[np.bool_]) -> Floats:
    """Expected cost of repair (S,) of states (S, H), whose weights need not sum to 1, by chance over cost."""
    left = states.copy()
    total = np.zeros(len(states))
    open_ = np.ones((len(states), len(seconds)), bool)
    for _ in range(len(seconds)):
        rate = np.where(open_, (left @ undoes.T) / seconds, 0.0)
        best = rate.argmax(axis=1)
        going = rate[np.arange(len(states)), best] > 0
        if not going.any():
            break
        total += np.where(going, seconds[best] * left.sum(axis=1), 0.0)
        left *= ~(undoes[best] & going[:, None])
        open_[np.arange(len(states)), best] = False
    return np.asarray(total + LEFT_OVER_S * left.sum(axis=1))


def groups_alike(tests: Sequence[Test], count: int) -> list[list[int]]:
    """Lists of hypotheses, of so many, that no test tells apart; each of two and more."""
    groups: dict[bytes, list[int]] = {}
    for h in range(count):
        column = np.concatenate([test.chance[:, h] for test in tests]) if tests else np.zeros(0)
        groups.setdefault(np.round(column / ALIKE).astype(np.int64).tobytes(), []).append(h)
    return [group for group in groups.values() if len(group) > 1]
