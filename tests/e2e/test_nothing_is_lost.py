"""Nothing entered is lost: server restarted, upload broken, tab closed, two phones, a gap in the network."""

import re
import socket
import threading
import time
from collections.abc import Callable
from contextlib import AbstractContextManager, closing, suppress
from typing import Any

from hands_on import (
    NO_WAY,
    PHONE,
    REFUSED,
    case_of,
    open_sample,
    opened,
    page_of,
    plate,
    title,
    touch,
    watched,
)
from laptop import Laptop
from playwright.sync_api import Browser, BrowserContext, Page, Route, expect

import sample_images

CASE = case_of("owl")
PHOTO = sample_images.sample_path("owl.jpg")
GAP_S = 20
BROKEN_OFF = r"status of 500"  # what a server says that is stopped while it thinks
_CHUNK = 16_384

Check = Callable[[Page], None]


class Wire:
    """A way to the server that is narrow for what goes there, and that can be cut in the middle of it."""

    def __init__(self, port: int, bytes_per_s: float) -> None:
        self._to, self._pause_s = port, _CHUNK / bytes_per_s
        self._door = socket.create_server(("127.0.0.1", 0))
        self.address = f"http://127.0.0.1:{self._door.getsockname()[1]}"
        self._open: list[socket.socket] = []
        self.whole = True
        threading.Thread(target=self._accept, daemon=True).start()

    def _accept(self) -> None:
        with suppress(OSError):
            while True:
                here = self._door.accept()[0]
                if not self.whole:
                    here.close()
                    continue
                there = socket.create_connection(("127.0.0.1", self._to))
                self._open += [here, there]
                threading.Thread(target=self._pump, args=(here, there, self._pause_s), daemon=True).start()
                threading.Thread(target=self._pump, args=(there, here, 0.0), daemon=True).start()

    def _pump(self, source: socket.socket, sink: socket.socket, pause_s: float) -> None:
        with suppress(OSError):
            while part := source.recv(_CHUNK):
                sink.sendall(part)
                if len(part) == _CHUNK:
                    time.sleep(pause_s)
            sink.shutdown(socket.SHUT_WR)

    def cut(self) -> None:
        self.whole = False
        for end in self._open:
            with suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
            end.close()

    def mend(self) -> None:
        self.whole, self._pause_s = True, 0.0

    def close(self) -> None:
        self.cut()
        self._door.close()


def phone(browser: Browser, address: str, *excused: str) -> AbstractContextManager[BrowserContext]:
    """A phone that may find nobody at home."""
    return watched(browser.new_context(**PHONE), address, excused="|".join([NO_WAY, REFUSED, *excused]))


def discs(page: Page, count: int) -> None:
    expect(page.locator("#picture .disc")).to_have_count(count)


def link(page: Page) -> str:
    """The address of the sculpture, once it has one."""
    page.wait_for_function("() => location.hash.length > 20")
    return page.url


def draft(page: Page) -> dict[str, Any]:
    """The draft as the server has it."""
    address, _, draft_id = page.url.partition("/#")
    told: dict[str, Any] = page.request.get(f"{address}/drafts/{draft_id}").json()
    return told


def kept(page: Page, holds: Any) -> dict[str, Any]:
    """The draft as soon as its job is as it should be."""
    until = time.monotonic() + 30
    told = draft(page)
    while not holds(told["job"]) and time.monotonic() < until:
        page.wait_for_timeout(100)
        told = draft(page)
    assert holds(told["job"]), told["job"]
    return told


def dough(page: Page) -> None:
    """The first dough of the owl, tapped in two places."""
    page.wait_for_selector("body.on-colours")
    for n, tap in enumerate(CASE["palette"][0]["taps"][:2]):
        touch(page, tap)
        discs(page, n + 1)


def test_server_restarted_in_mid_case(browser: Browser, laptop: Laptop) -> None:
    with phone(browser, laptop.address, BROKEN_OFF) as context:
        page = opened(context, laptop.address)
        open_sample(page, "Owl")
        where = link(page)
        laptop.stop()
        plate(page, "Entries").tap()
        page.locator("#words .bead").nth(3).tap()
        plate(page, "off").tap()
        laptop.start()
        kept(page, lambda job: job["leds"][1]["seen"] == "off")
        laptop.stop()
        plate(page, "Find the fault").tap()
        page.wait_for_selector("body.on-offline")
        laptop.start()
        page.wait_for_selector("body.on-answer")
        expect(page.locator("#picture .found .mark").first).to_be_attached()
        told = title(page).inner_text()
        with phone(browser, laptop.address) as other:
            late = opened(other, where)
            late.wait_for_selector("body.on-answer")
            expect(title(late)).to_have_text(told)


def test_upload_broken_half_way(browser: Browser, laptop: Laptop, check_layout: Check) -> None:
    # As many bytes as a phone's photo has: less would be gone into buffers at once.
    taken = PHOTO.read_bytes() + bytes(8_000_000)
    wire = Wire(laptop.port, bytes_per_s=len(taken) / 6)
    with closing(wire), phone(browser, wire.address) as context:
        page = opened(context, wire.address)
        page.locator("#camera").set_input_files({"name": "a.jpg", "mimeType": "image/jpeg", "buffer": taken})
        dough(page)
        news = page.locator("#news")
        expect(news).to_have_text(re.compile(r"Sending the photo: [1-9]\d?\s%"))
        check_layout(page)
        wire.cut()
        expect(plate(page, "Not sent yet. Try now")).to_be_visible()
        check_layout(page)
        assert laptop.count("photos") == 0
        plate(page, "Add dough").tap()
        touch(page, CASE["palette"][1]["taps"][0])
        discs(page, 3)
        page.wait_for_selector("body.on-colours")
        wire.mend()
        plate(page, "Not sent yet. Try now").tap()
        link(page)
        kept(page, lambda job: [len(one["taps"]) for one in job["palette"]] == [2, 1])
        expect(news).to_have_text("Colours")
        assert laptop.count("photos") == 1


def test_reload_before_the_answer_to_an_edit_came(browser: Browser, address: str) -> None:
    """The page cannot know whether its edit arrived; it asks, and meets no conflict with itself."""
    with page_of(browser, address, **PHONE) as page:
        open_sample(page, "Owl")
        link(page)
        # It arrives, and nobody is told.
        page.route(
            "**/drafts/*", lambda route: route.fetch() if route.request.method == "PUT" else route.fallback()
        )
        plate(page, "Entries").tap()
        page.locator("#words .bead").nth(3).tap()
        plate(page, "off").tap()
        kept(page, lambda job: job["leds"][1].get("seen") == "off")
        page.unroute("**/drafts/*")
        page.reload()
        page.wait_for_selector("body.on-entries")
        page.locator("#words .bead").nth(3).tap()
        plate(page, "dim").tap()
        kept(page, lambda job: job["leds"][1]["seen"] == "dim")
        assert draft(page)["revision"] > 2


def test_photo_whose_answer_was_lost_is_kept_once(browser: Browser, laptop: Laptop) -> None:
    def lose(route: Route) -> None:
        route.fetch()
        route.abort()

    with page_of(browser, laptop.address, excused=NO_WAY, **PHONE) as page:
        page.route("**/photos?*", lose, times=1)
        page.locator("#camera").set_input_files(PHOTO)
        link(page)
        assert laptop.count("photos") == 1


def test_tab_closed_and_reopened(browser: Browser, laptop: Laptop) -> None:
    with phone(browser, laptop.address) as context:
        page = opened(context, laptop.address)
        page.locator("#camera").set_input_files(PHOTO)
        dough(page)
        plate(page, "Entries").tap()
        touch(page, CASE["pack"]["plus"])
        expect(title(page)).to_have_text("Tap the black lead.")
        where = link(page)
        page.close()
        page = opened(context, where)
        page.wait_for_selector("body.on-entries")
        expect(title(page)).to_have_text("Tap the black lead.")
        assert page.locator("#picture .mark").count() == 1
        plate(page, "Back").tap()
        discs(page, 2)


def test_answer_is_there_in_a_reopened_tab_even_without_the_server(browser: Browser, laptop: Laptop) -> None:
    with phone(browser, laptop.address) as context:
        page = opened(context, laptop.address)
        open_sample(page, "Caterpillar")
        plate(page, "Entries").tap()
        plate(page, "Find the fault").tap()
        page.wait_for_selector("body.on-answer")
        told = title(page).inner_text()
        where = link(page)
        page.wait_for_function("async () => (await caches.open('doughsight-page')).match(location.href)")
        page.close()
        laptop.stop()
        page = opened(context, where.replace("/#", "/?for=a#"))  # as the queue opens it
        page.wait_for_selector("body.on-answer")
        expect(title(page)).to_have_text(told)
        assert page.locator(".lights li").count() > 0
        laptop.start()


def test_two_phones_on_one_case(browser: Browser, laptop: Laptop) -> None:
    with phone(browser, laptop.address) as one, phone(browser, laptop.address) as two:
        mine = opened(one, laptop.address)
        open_sample(mine, "Owl")
        theirs = opened(two, link(mine))
        theirs.wait_for_selector("body.on-entries")
        plate(mine, "Entries").tap()
        # Both at once: another LED each.
        for page, place in ((mine, [900, 300]), (theirs, [600, 640])):
            plate(page, "Add LED").tap()
            touch(page, place)
        leds = kept(mine, lambda job: sum(bool(led["long_leg"]) for led in job["leds"]) == 5)["job"]["leds"]
        assert [led["id"] for led in leds] == ["L1", "L2", "L3", "L4", "L5"]
        for page in (mine, theirs):
            expect(page.locator("#words .bead")).to_have_count(7)
        # The other phone's edit stays when this one takes its own back.
        mine.locator("#words .bead").nth(2).tap()
        plate(mine, "dim").tap()
        kept(mine, lambda job: job["leds"][0]["seen"] == "dim")
        theirs.locator("#words .bead").nth(3).tap()
        plate(theirs, "bright").tap()
        expect(mine.locator("#news")).to_have_text("Another phone changed L2")
        plate(mine, "Undo").tap()
        seen = kept(theirs, lambda job: job["leds"][0]["seen"] != "dim")["job"]["leds"]
        assert [led["seen"] for led in seen[:2]] == [CASE["leds"][0]["seen"], "bright"]
        # What mine still lacks is asked for there, too.
        expect(plate(theirs, "Find the fault")).to_have_attribute("aria-disabled", "true")


def test_answer_of_another_phone_is_told_and_a_deleted_photo_too(browser: Browser, laptop: Laptop) -> None:
    with phone(browser, laptop.address) as one, phone(browser, laptop.address) as two:
        mine = opened(one, laptop.address)
        open_sample(mine, "Owl")
        plate(mine, "Entries").tap()
        theirs = opened(two, link(mine))
        theirs.wait_for_selector("body.on-entries")
        plate(theirs, "Find the fault").tap()
        theirs.wait_for_selector("body.on-answer")
        plate(mine, "Another phone has looked. See it").tap()
        mine.wait_for_selector("body.on-answer")
        told = title(theirs).inner_text()
        expect(title(mine)).to_have_text(told)
        where = mine.url
        plate(theirs, "More").tap()
        plate(theirs, "Delete this photo").tap()
        theirs.wait_for_selector("body.on-start")
        assert "#" not in theirs.url
        expect(mine.locator("#news")).to_have_text("Deleted on another phone")
        expect(title(mine)).to_have_text(told)
        late = opened(two, where)
        late.wait_for_selector("body.on-trouble")
        expect(late.locator(".state")).to_contain_text("its photo was deleted")


def test_another_sculpture_is_not_taken_for_the_same(
    browser: Browser, laptop: Laptop, check_layout: Check
) -> None:
    with phone(browser, laptop.address) as context:
        page = opened(context, laptop.address)
        open_sample(page, "Owl")
        plate(page, "Entries").tap()
        page.wait_for_selector("body.on-entries")
        marks = page.locator("#picture .mark").count()
        plate(page, "Find the fault").tap()
        page.wait_for_selector("body.on-answer")
        with page.expect_file_chooser() as chooser:
            plate(page, "Done, look again").tap()
        chooser.value.set_files(sample_images.sample_path("snail.jpg"))
        page.wait_for_selector("body.on-trouble")
        check_layout(page)
        plate(page, "Check the marks").tap()
        page.wait_for_selector("body.on-entries")
        assert page.locator("#picture .mark").count() == marks


def test_gap_in_the_network(browser: Browser, laptop: Laptop) -> None:
    with phone(browser, laptop.address) as context:
        context.clock.install()
        page = opened(context, laptop.address)
        page.locator("#camera").set_input_files(PHOTO)
        dough(page)
        link(page)
        kept(page, lambda job: job["palette"] and len(job["palette"][0]["taps"]) == 2)
        context.set_offline(True)
        touch(page, CASE["palette"][0]["taps"][2])
        discs(page, 3)
        plate(page, "Add dough").tap()
        touch(page, CASE["palette"][1]["taps"][0])
        discs(page, 4)
        expect(plate(page, "Not sent yet. Try now")).to_be_visible()
        for _ in range(GAP_S):  # as the clock of the page has it
            page.clock.run_for(1000)
        context.set_offline(False)
        kept(page, lambda job: [len(one["taps"]) for one in job["palette"]] == [3, 1])
        expect(page.locator("#news")).to_have_text("Colours")
        page.wait_for_selector("body.on-colours")
