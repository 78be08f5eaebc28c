"""What every test of the page needs: a phone or a laptop, its plates, a sample, and touching the photo."""

import json
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any
from urllib.parse import urlsplit

from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Locator, Page, Route, expect

import sample_images

PHONE: dict[str, Any] = {"viewport": {"width": 360, "height": 740}, "has_touch": True, "is_mobile": True}
LAPTOP: dict[str, Any] = {"viewport": {"width": 1280, "height": 800}}

# Half of what a page costs: each window is given two more pages, with what an address bar would propose.
NO_PROPOSALS = ("WebUIOmniboxPopup", "WebUIOmniboxAimPopup")
# Of such lists the last alone holds, so what Playwright leaves out (its chromiumSwitches) is said again.
LEFT_OUT = (
    "AimEnabled",
    "AvoidCorsURLLoaderRestartOnRedirect",
    "AvoidUnnecessaryBeforeUnloadCheckSync",
    "DestroyProfileOnBrowserClose",
    "HttpsFirstBalancedModeAutoEnable",
    "HttpsUpgrades",
    "LensOverlay",
    "MediaRouter",
    "NetworkTimeServiceQuerying",
    "OptimizationHints",
    "PaintHolding",
    "PreconnectToSearch",
    "ThirdPartyStoragePartitioning",
)
CHROMIUM_ARGS = [
    "--no-sandbox",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--disable-gpu",
    "--disable-quic",
    f"--disable-features={','.join(LEFT_OUT + NO_PROPOSALS)}",
]

PATIENCE_MS = 90_000
"""As long as a busy machine with two cores may take for an answer."""
expect.set_options(timeout=20_000)

# What a test may excuse that provokes it: the browser itself notes each answer that is missing or refuses.
NO_WAY = r"^Failed to load resource: net::ERR_"
REFUSED = r"^Failed to load resource: .* status of 4\d\d"

# A service worker that starts meanwhile takes a request now and then past `route`.
ROUTED: dict[str, Any] = {"service_workers": "block"}

MOST_TABS = 120
# The view is fitted to its frame a frame later.
ON_SCREEN = """async ([x, y]) => {
  await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
  const p = new DOMPoint(x, y).matrixTransform(document.querySelector("#picture image").getScreenCTM());
  return [p.x, p.y];
}"""

Spot = Sequence[float]


@contextmanager
def watched(context: BrowserContext, *addresses: str, excused: str = "$^") -> Iterator[BrowserContext]:
    """A browser's context, closed at the end.

    It fails the test when a page of it throws, asks elsewhere than at these addresses, or writes an error to
    the console, unless that is `excused` (a pattern).
    """
    context.set_default_timeout(PATIENCE_MS)
    asked: list[str] = []
    complaints: list[str] = []

    def note(message: ConsoleMessage) -> None:
        if message.type == "error" and not re.search(excused, message.text):
            complaints.append(message.text)

    context.on("request", lambda request: asked.append(request.url))
    context.on("console", note)
    context.on("weberror", lambda error: complaints.append(str(error.error)))
    try:
        yield context
    finally:
        for page in context.pages:
            page.unroute_all(behavior="ignoreErrors")
        context.close()
    places = {urlsplit(address).netloc for address in addresses}
    elsewhere = [url for url in asked if not url.startswith("blob:") and urlsplit(url).netloc not in places]
    assert not elsewhere, elsewhere
    assert not complaints, complaints


@contextmanager
def page_of(browser: Browser, address: str, excused: str = "$^", **device: Any) -> Iterator[Page]:
    """A device with the page opened; it fails as `watched` tells.

    What the service worker does is tested in test_nothing_is_lost.py.
    """
    with watched(browser.new_context(**ROUTED, **device), address, excused=excused) as context:
        yield opened(context, address)


def opened(context: BrowserContext, address: str) -> Page:
    page = context.new_page()
    page.goto(address)
    page.wait_for_selector("html[data-ready]")
    return page


# ---------------------------------------------------------------- what is on the screen


def plate(where: Page | Locator, name: str) -> Locator:
    return where.get_by_role("button", name=name, exact=True)


def title(page: Page) -> Locator:
    return page.get_by_role("heading", level=1)


def open_sample(page: Page, name: str, start: str = "Try a sample") -> None:
    """A sample, by the beginning of its name; `start` is what the plate says that offers samples."""
    plate(page, start).click()
    page.get_by_role("button", name=name).click()
    page.wait_for_selector("body.on-colours")


def untold(route: Route) -> None:
    """Answers with a sample of whose lights nothing was told."""
    sample = route.fetch().json()
    for led in sample["case"]["leds"]:
        del led["seen"]
    route.fulfill(status=201, json=sample)


def outlined(page: Page) -> None:
    page.wait_for_selector("#picture .core", state="attached")


def find_the_fault(page: Page, seen: str = "") -> None:
    """From the colours of a sample to its answer or first check; `seen` is how its first light looks."""
    plate(page, "Entries").click()
    if seen:
        page.locator("#words .bead").nth(2).click()
        plate(page, seen).click()
    plate(page, "Find the fault").click()
    page.wait_for_selector("body.on-answer, body.on-check")


# ---------------------------------------------------------------- on the photo


def spot(page: Page, at: Spot) -> tuple[float, float]:
    """Where a place of the photo is on the screen, however the photo is turned."""
    x, y = page.evaluate(ON_SCREEN, list(at))
    return x, y


def touch(page: Page, at: Spot) -> None:
    page.touchscreen.tap(*spot(page, at))


def drag(page: Page, start: Spot, end: Spot, steps: int = 4) -> None:
    """With the mouse from one place of the photo to another."""
    page.mouse.move(*spot(page, start))
    page.mouse.down()
    page.mouse.move(*spot(page, end), steps=steps)
    page.mouse.up()


def tab_to(page: Page, what: Locator, key: str = "Tab") -> None:
    """As one without a mouse does it: on and on, until it has the focus."""
    for _ in range(MOST_TABS):
        if what.evaluate("(one) => one === document.activeElement"):
            return
        page.keyboard.press(key)
    raise AssertionError(f"{what} is not reached with {key}")


# ---------------------------------------------------------------- the samples


def case_of(sample: str) -> dict[str, Any]:
    told: dict[str, Any] = json.loads(sample_images.sample_path(f"{sample}.case.json").read_text("utf-8"))
    return told


def report_of(sample: str) -> dict[str, Any]:
    told: dict[str, Any] = json.loads(sample_images.sample_path(f"{sample}.report.json").read_text("utf-8"))
    return told
