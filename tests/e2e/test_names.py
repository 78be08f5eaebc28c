"""A field for a nickname says that full names stay out, and warns at two words."""

from collections.abc import Callable

from hands_on import PHONE, page_of
from playwright.sync_api import Browser, Page, expect

FIELD = """async () => {
  const { nicknameField } = await import("../static/js/names.js");
  const title = document.createElement("h1");
  title.textContent = "Who made it?";
  document.getElementById("room").replaceChildren(title, nicknameField({ id: "maker", label: "Nickname" }));
}"""


def test_two_words_are_warned_of_and_can_be_read_by_all(
    browser: Browser,
    address: str,
    check_access: Callable[[Page], None],
    keep_picture: Callable[[Page, str], None],
) -> None:
    with page_of(browser, address, **PHONE) as page:
        page.goto(f"{address}/rooms/workshops")
        page.wait_for_selector("html[data-ready]")
        page.evaluate(FIELD)
        field = page.get_by_label("Nickname")
        warning = page.get_by_text("This may be a full name. A nickname is enough.")
        expect(page.get_by_text("No full names.")).to_be_visible()
        field.press_sequentially("Ana Lima")
        expect(warning).to_be_visible()
        expect(field).to_have_accessible_description(
            "A nickname or a bench number. No full names. This may be a full name. A nickname is enough."
        )
        keep_picture(page, "names-warn-phone")
        check_access(page)
        field.fill("bench 7")
        expect(warning).to_be_hidden()
        field.fill("x" * 30)
        expect(field).to_have_value("x" * 24)
