"""Whose turn it is: so many at once, answers before outlines; who waits at the end is sent away."""

import threading
import time
from collections.abc import Callable

import pytest
from fastapi import HTTPException

from api.turns import Turns


def until(true: Callable[[], bool]) -> None:
    last = time.monotonic() + 10
    while not true():
        assert time.monotonic() < last
        time.sleep(0.005)


def started(*jobs: Callable[[], None]) -> list[threading.Thread]:
    threads = [threading.Thread(target=job) for job in jobs]
    for thread in threads:
        thread.start()
    return threads


def test_no_more_at_once_than_told() -> None:
    turns, lock, at_work, most = Turns(2), threading.Lock(), 0, 0

    def work() -> None:
        nonlocal at_work, most
        with turns:
            with lock:
                at_work += 1
                most = max(most, at_work)
            time.sleep(0.01)
            with lock:
                at_work -= 1

    for thread in started(*[work] * 8):
        thread.join(10)
    assert most == 2
    assert (turns.running, turns.waiting) == (0, 0)


def test_who_can_wait_stands_behind_the_others() -> None:
    turns, order = Turns(1), []

    def first(name: str) -> Callable[[], None]:
        def job() -> None:
            with turns:
                order.append(name)

        return job

    def later() -> None:
        with turns.later:
            order.append("outlines")

    with turns:
        threads = started(later)
        until(lambda: turns.waiting == 1)
        for n, name in enumerate(("one", "two"), start=2):
            threads += started(first(name))
            until(lambda n=n: turns.waiting == n)  # type: ignore[misc]
    for thread in threads:
        thread.join(10)
    assert order == ["one", "two", "outlines"]


def test_the_last_place_is_left_to_those_who_cannot_wait() -> None:
    turns, order, go_on = Turns(2), [], threading.Event()

    def later() -> None:
        with turns.later:
            order.append("outlines")
            go_on.wait(10)

    threads = started(later, later)
    until(lambda: order == ["outlines"] and turns.waiting == 1)
    with turns:  # at once, though two wanted to work before
        assert (turns.running, turns.waiting) == (2, 1)
    go_on.set()
    for thread in threads:
        thread.join(10)
    assert order == ["outlines"] * 2 and turns.running == 0


def test_outlines_begin_when_nothing_else_is_looked_at() -> None:
    turns, order = Turns(2), []

    def later() -> None:
        with turns.later:
            order.append(turns.running)

    with turns:
        threads = started(later)
        until(lambda: turns.waiting == 1)
        time.sleep(0.05)
        assert order == []
    threads[0].join(10)
    assert order == [1]


def test_at_the_end_who_works_may_end_and_who_waits_is_sent_away() -> None:
    turns, told = Turns(1), []

    def waits() -> None:
        try:
            with turns:
                told.append("worked")
        except HTTPException as error:
            told.append(error.status_code)

    with turns:
        threads = started(waits)
        until(lambda: turns.waiting == 1)
        turns.close()
        threads[0].join(10)
        assert told == [503]
        assert turns.running == 1
    assert turns.running == 0
    with pytest.raises(HTTPException, match="stopped on the laptop"), turns.later:
        pass


def test_a_turn_that_breaks_is_given_back() -> None:
    turns = Turns(1)
    with pytest.raises(ValueError, match="broke"), turns:
        raise ValueError("broke")
    with turns:
        assert turns.running == 1
