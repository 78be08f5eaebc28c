"""The help queue as server-sent events (HTML standard, section 9.2): the whole of it whenever it has changed.

All phones of a workshop share one reading of it (`api/queue_board.py`), so that pushing it costs less than
letting thirty phones ask for it. Each event is whole: a phone that comes back needs to be told nothing twice,
and there is nothing for `Last-Event-ID` to name.
"""

import asyncio
from collections.abc import AsyncIterator

from sse_starlette import EventSourceResponse, ServerSentEvent

from api.queue_board import Board
from api.queue_schemas import queue_answer
from api.routes.parts import Parts
from api.who import Who

STILL_S = 5.0
"""How often a quiet stream says that it is still there [s]: a phone that hears nothing twice is not live."""
BURST_S = 0.15
"""Changes that come so close together are told as one [s] (estimated; a tap is seen within a second)."""
RETRY_MS = 1500
"""After how long a phone that lost the stream asks again."""
END_S = 5.0
"""So long a stream may take to end by itself when the server stops [s]: less than the server waits for all
requests (`api/serving.py`), and far more than it needs (BURST_S and one reading of the queue)."""


def stream(has: Parts, workshop_id: str) -> EventSourceResponse:
    """Events `queue` with a whole `QueueAnswer` or `PlaceAnswer`, `still`, and at the end `out`."""
    # The pings of the library are comments, which no page can hear; `still` is an event.
    # It ends by itself once `live` is closed; cut off by the library, it would be logged as an error.
    return EventSourceResponse(_events(has, workshop_id), ping=60, sep="\n", shutdown_grace_period=END_S)


async def _events(has: Parts, workshop_id: str) -> AsyncIterator[ServerSentEvent]:
    listeners, device = has.boards.listeners, has.who.device or ""
    mine = listeners.add(device)
    last: object = None
    try:
        # The laptop itself may look at all of it in as many windows as it likes.
        while not has.live.closed and (not device or listeners.counts(device, mine)):
            count = has.live.count(workshop_id)
            found = await has.boards.seen(has.records, has.live, workshop_id, has.who)
            if found is None:
                yield ServerSentEvent("1", event="out")
                return
            board, who = found
            seen = _seen(board, who)
            if seen == last:
                yield ServerSentEvent("1", event="still")
            else:
                text = queue_answer(board, who).model_dump_json()
                yield ServerSentEvent(text, event="queue", retry=RETRY_MS)
            last = seen
            if await has.live.wait(workshop_id, count, STILL_S) != count:
                await asyncio.sleep(BURST_S)
    finally:
        listeners.drop(device, mine)


def _seen(board: Board, who: Who) -> object:
    """All that this device is told, so that it is told nothing twice."""
    if who.role != "bench":
        return board
    return (board.over, who.sculpture, board.of_sculpture(who.sculpture))
