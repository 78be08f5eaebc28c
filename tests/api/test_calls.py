"""Calls in the records: who presses at the same moment, one wins; a call keeps its place in the order."""

import threading
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import date
from typing import TypeVar

import pytest
from sqlalchemy.exc import IntegrityError

from api.records import KeptCall, Records
from api.workshop_schemas import WorkshopEntry

T = TypeVar("T")
ENTRY = WorkshopEntry(name="Tuesday club", day=date(2026, 11, 24))


@pytest.fixture(scope="module")
def records(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Records]:
    """For all tests: each has a workshop of its own."""
    with closing(Records(tmp_path_factory.mktemp("data"))) as records:
        yield records


@pytest.fixture
def workshop(records: Records) -> str:
    return records.workshops.add(ENTRY).id


def asked(records: Records, workshop: str, bench: str) -> KeptCall:
    return records.calls.ask(workshop, records.sculptures.at_bench(workshop, bench).id)


def at_once(*works: Callable[[], T]) -> list[T]:
    """All of them, as nearly at the same moment as threads can."""
    together, came = threading.Barrier(len(works)), list[T]()

    def do(work: Callable[[], T]) -> None:
        together.wait()
        came.append(work())

    threads = [threading.Thread(target=do, args=(work,)) for work in works]
    for one in threads:
        one.start()
    for one in threads:
        one.join(timeout=30)
    assert len(came) == len(works)
    return came


def order(records: Records, workshop: str) -> list[str]:
    return [one.bench for one in records.calls.queue(workshop).calls]


def test_twenty_presses_make_one_call(records: Records, workshop: str) -> None:
    owl = records.sculptures.at_bench(workshop, "Owl").id
    came = at_once(*[lambda: records.calls.ask(workshop, owl)] * 20)
    assert len({one.id for one in came}) == 1
    assert {(one.state, one.revision) for one in came} == {("waiting", 1)}
    assert len(records.calls.queue(workshop).calls) == 1


def test_of_eight_helpers_one_takes_the_call(records: Records, workshop: str) -> None:
    call = asked(records, workshop, "7")
    takers = [f"device {n}" for n in range(8)]
    came = at_once(*[lambda t=t: records.calls.take(call.id, 1, t, f"helper {t}") for t in takers])
    winners = [one for one in came if one is not None and one.done]
    assert len(winners) == 1
    winner = winners[0].call.device_id
    # All others are told who has it.
    assert all(one is not None and one.call.device_id == winner and one.call.revision == 2 for one in came)


def test_put_back_against_solved(records: Records, workshop: str) -> None:
    call = asked(records, workshop, "7")
    records.calls.take(call.id, 1, "a", "helper 1")
    came = at_once(
        lambda: records.calls.put_back(call.id, 2),
        lambda: records.calls.solve(call.id, 2, "led-backwards"),
        lambda: records.calls.withdraw(call.id, 2),
    )
    done = [one.call for one in came if one is not None and one.done]
    assert len(done) == 1
    assert records.calls.get(call.id) == done[0]
    assert done[0].revision == 3


def test_a_call_put_back_keeps_its_place(records: Records, workshop: str) -> None:
    calls = {bench: asked(records, workshop, bench) for bench in ("7", "12", "3")}
    assert order(records, workshop) == ["7", "12", "3"]
    records.calls.take(calls["7"].id, 1, "a", "helper 1")
    assert order(records, workshop) == ["7", "12", "3"]  # a call that is taken stays to be seen
    back = records.calls.put_back(calls["7"].id, 2)
    assert back is not None
    assert (back.call.asked, back.call.device_id, back.call.helper) == (calls["7"].asked, None, "")
    assert order(records, workshop) == ["7", "12", "3"]
    records.calls.take(calls["12"].id, 1, "a", "helper 1")
    records.calls.solve(calls["12"].id, 2, "led-backwards")
    records.calls.withdraw(calls["7"].id, 3)
    assert order(records, workshop) == ["3"]
    # Who asks again waits behind all others.
    assert asked(records, workshop, "7").id != calls["7"].id
    assert order(records, workshop) == ["3", "7"]


def test_the_same_tap_sent_again_after_a_lost_answer(records: Records, workshop: str) -> None:
    calls, call = records.calls, asked(records, workshop, "7")
    assert calls.take(call.id, 1, "a", "helper 1") == calls.take(call.id, 1, "a", "helper 1")
    other = calls.take(call.id, 1, "b", "helper 2")
    assert other is not None
    assert (other.done, other.call.device_id) == (False, "a")
    first = calls.solve(call.id, 2, "leg-out")
    assert first is not None
    assert first.done
    assert first == calls.solve(call.id, 2, "leg-out")
    differs = calls.solve(call.id, 2, "led-backwards")
    assert differs is not None
    assert (differs.done, differs.call.kind) == (False, "leg-out")


@pytest.mark.parametrize("move", ["take", "put_back", "solve", "withdraw"])
def test_what_is_over_cannot_be_moved(records: Records, workshop: str, move: str) -> None:
    call = asked(records, workshop, "7")
    records.calls.withdraw(call.id, 1)
    told = {"take": ("a", "helper 1"), "solve": ("leg-out",)}.get(move, ())
    came = getattr(records.calls, move)(call.id, 2, *told)
    assert (came.done, came.call.state, came.call.revision) == (False, "withdrawn", 2)
    assert getattr(records.calls, move)("none", 1, *told) is None


def test_a_helper_who_is_put_out_lets_go(records: Records, workshop: str) -> None:
    way_in = records.joins.add(workshop, "helper", 1.0)
    gone, stays = (records.joins.enter(way_in, "helper {n}") for _ in range(2))
    assert gone is not None
    assert stays is not None
    mine, done, others, laptops = (asked(records, workshop, bench) for bench in ("7", "12", "3", "9"))
    for call in (mine, done):
        records.calls.take(call.id, 1, gone.id, gone.name)
    records.calls.solve(done.id, 2, "leg-out")
    records.calls.take(others.id, 1, stays.id, stays.name)
    records.calls.take(laptops.id, 1, None, "")
    assert records.calls.let_go(workshop) == 0
    records.joins.revoke_device(workshop, gone.id)
    assert records.calls.let_go(workshop) == 1
    states = [(one.bench, one.call.state, one.call.helper) for one in records.calls.queue(workshop).calls]
    assert states == [("7", "waiting", ""), ("3", "taken", "helper 2"), ("9", "taken", "")]


def test_nobody_asks_for_a_sculpture_that_is_not_there(records: Records, workshop: str) -> None:
    with pytest.raises(IntegrityError):
        records.calls.ask(workshop, "none")
    assert records.calls.queue("none").calls == ()
