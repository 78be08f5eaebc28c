"""The help queue in the public formats."""

import json
from typing import Annotated, Literal

from pydantic import BaseModel, Field

from api.fields import Strict
from api.queue_board import Board, Chart
from api.records import KeptCall, WaitingCall
from api.records.calls import State
from api.records.clock import now
from api.who import Who
from api.workshop_schemas import Bench

KIND = r"^[a-z][a-z-]{1,39}$"


class CallEntry(Strict):
    """Which bench asks; null: the one that sends this."""

    bench: Bench | None = None


class SolvedEntry(Strict):
    """What it turned out to be: a code of a finding, a hidden cause, or `other`."""

    kind: Annotated[str, Field(pattern=KIND)]


class GuessOut(BaseModel):
    """The first finding of the last inspection."""

    code: str
    level: Literal["stop", "fix", "watch"]
    parts: list[str]


class CallAnswer(BaseModel):
    """A call. `waited_s` counts from when it was first asked; `yours`: this device has taken it."""

    id: str
    revision: int
    state: State
    sculpture: str
    waited_s: int
    yours: bool
    helper: str
    kind: str


class WaitingAnswer(CallAnswer):
    """A call with its sculpture; `photo` and `draft` are the ids of its newest ones.

    `picture` changes when something on the photo is covered. `looked`: it was inspected, whatever was found.
    """

    bench: str
    title: str
    maker: str
    photo: str | None
    picture: str | None
    draft: str | None
    looked: bool
    guess: GuessOut | None


class KindAnswer(BaseModel):
    """How many sculptures had a fault of this kind."""

    kind: str
    sculptures: int


class ChartAnswer(BaseModel):
    """What went wrong so far, by kind; `of` sculptures had any fault. `stop`: worth a stop of the class."""

    kinds: list[KindAnswer]
    of: int
    stop: str | None


class QueueAnswer(BaseModel):
    """The queue of a workshop as a helper sees it, in the order in which they asked.

    `at_ms` is when it was read: of two that come by two ways, the later one counts.
    """

    at_ms: int
    workshop: str
    name: str
    over: bool
    benches: int
    helpers: int
    calls: list[WaitingAnswer]
    chart: ChartAnswer


class PlaceAnswer(BaseModel):
    """What a bench sees: its own open call, how many wait before it, and whether a photo is with it."""

    at_ms: int
    workshop: str
    name: str
    over: bool
    sculpture: str | None
    call: CallAnswer | None
    before: int
    photo: bool


def queue_answer(board: Board, who: Who) -> QueueAnswer | PlaceAnswer:
    """The board as this device may see it."""
    if who.role == "bench":
        return _place(board, who)
    return QueueAnswer(
        at_ms=board.at_ms,
        workshop=board.workshop_id,
        name=board.name,
        over=board.over,
        benches=board.benches,
        helpers=board.helpers,
        calls=[_waiting(one, who) for one in board.calls],
        chart=_chart(board.chart),
    )


def call_answer(call: KeptCall, who: Who) -> CallAnswer:
    """A call as this device may see it."""
    return CallAnswer.model_validate(_of_call(call, who))


def _place(board: Board, who: Who) -> PlaceAnswer:
    mine = board.of_sculpture(who.sculpture)
    return PlaceAnswer(
        at_ms=board.at_ms,
        workshop=board.workshop_id,
        name=board.name,
        over=board.over,
        sculpture=who.sculpture,
        call=None if mine is None else call_answer(mine[0].call, who),
        before=0 if mine is None else mine[1],
        photo=mine is not None and mine[0].photo_id is not None,
    )


def _waiting(one: WaitingCall, who: Who) -> WaitingAnswer:
    return WaitingAnswer.model_validate(
        {
            **_of_call(one.call, who),
            "bench": one.bench,
            "title": one.title,
            "maker": one.maker,
            "photo": one.photo_id,
            "picture": one.picture and one.picture[:12],
            "draft": one.draft_id,
            "looked": one.guess is not None,
            "guess": None if one.guess is None else json.loads(one.guess),
        }
    )


def _of_call(call: KeptCall, who: Who) -> dict[str, object]:
    return {
        "id": call.id,
        "revision": call.revision,
        "state": call.state,
        "sculpture": call.sculpture_id,
        "waited_s": max(0, int((now() - call.asked).total_seconds())),
        "yours": call.state == "taken" and call.device_id == who.device and who.role != "bench",
        "helper": call.helper,
        "kind": call.kind,
    }


def _chart(chart: Chart) -> ChartAnswer:
    kinds = [KindAnswer(kind=one.code, sculptures=one.sculptures) for one in chart.kinds]
    return ChartAnswer(kinds=kinds, of=chart.of, stop=chart.stop)
