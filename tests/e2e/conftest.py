"""The app on a free port with the real engines, and Debian's Chromium to look at it."""

import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest
from axe_playwright_python.base import AxeResults
from axe_playwright_python.sync_playwright import Axe
from hands_on import CHROMIUM_ARGS
from laptop import Laptop
from playwright.sync_api import Browser, Page, sync_playwright
from seen_once import seen_once

from api import recent


@pytest.fixture(scope="session", autouse=True)
def _seen_once() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(recent, "inspect_case", seen_once(recent.inspect_case))
        yield


@pytest.fixture(scope="session")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with closing(Laptop(tmp_path_factory.mktemp("data"))) as laptop:
        yield laptop.address


@pytest.fixture
def laptop(tmp_path: Path) -> Iterator[Laptop]:
    """A server of this test alone."""
    with closing(Laptop(tmp_path)) as laptop:
        yield laptop


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        if os.environ.get("CI"):
            pytest.fail("there is no chromium on the path, and CI must try the page")
        pytest.skip("there is no chromium on the path")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=CHROMIUM_ARGS)
        yield browser
        browser.close()


# What lies in a row that scrolls sideways by itself can be reached.
CUT_OFF = """() => [...document.querySelectorAll("#words *, #foot *, #bar *, dialog[open] *")]
  .filter((one) => one.clientWidth && !one.closest(".hidden-words, .beads, .paints")
    && (one.scrollWidth > one.clientWidth + 1
    || one.getBoundingClientRect().right > innerWidth + 1 || one.getBoundingClientRect().left < -1))
  .map((one) => one.outerHTML)"""
SMALL = """() => [...document.querySelectorAll("button, select, input, a.plate, summary")]
  .filter((one) => one.offsetParent && one.getBoundingClientRect().height < 44)
  .map((one) => one.outerHTML)"""


@pytest.fixture(scope="session")
def check_layout() -> Callable[[Page], None]:
    """Nothing cut off or to scroll sideways but the string of beads, nothing too small for a thumb."""

    def check(page: Page) -> None:
        assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]
        assert page.evaluate(CUT_OFF) == []
        assert page.evaluate(SMALL) == []

    return check


@pytest.fixture(scope="session")
def check_access() -> Callable[[Page], None]:
    """What axe-core finds against WCAG 2.2 A and AA and its own best practices: nothing at all."""
    rules = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
    return lambda page: _nothing_found(page, rules)


@pytest.fixture(scope="session")
def check_contrast() -> Callable[[Page], None]:
    """The same for what alone differs between the bright and the dim room."""
    return lambda page: _nothing_found(page, {"type": "rule", "values": ["color-contrast"]})


def _nothing_found(page: Page, rules: object) -> None:
    if not page.evaluate("() => 'axe' in window"):
        page.evaluate(Axe().axe_script)
    told = page.evaluate("how => axe.run(how)", {"runOnly": rules, "resultTypes": ["violations"]})
    found = AxeResults(told)
    assert found.violations_count == 0, found.generate_report()


@pytest.fixture(scope="session")
def keep_picture() -> Callable[[Page, str], None]:
    """Keeps a screenshot under `out/screens`, for people to look at."""
    folder = Path(__file__).parents[2] / "out" / "screens"
    folder.mkdir(parents=True, exist_ok=True)

    def keep(page: Page, name: str) -> None:
        page.screenshot(path=folder / f"{name}.png")

    return keep
