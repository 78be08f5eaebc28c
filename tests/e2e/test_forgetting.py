"""What a tablet keeps of a photo is of the bench that uses it now, and of a workshop that it is still in."""

from typing import Any

from hands_on import NO_WAY, PHONE, REFUSED, ROUTED, plate, title, watched
from playwright.sync_api import Browser, BrowserContext, Page, expect

FROM_AFAR = {"X-Forwarded-For": "192.0.2.40"}
"""What comes by way of another machine is not the laptop's own (an address for documentation, RFC 5737)."""
KEEP = """async (photo) => {
  const { keep, keepPhoto } = await import("/static/js/keep.js");
  const file = new Blob(["no picture"]);
  await Promise.all([keepPhoto({ token: "t".repeat(20), natural: null, file, ...photo }), keep({ job: {} })]);
}"""
KEPT = "async () => Boolean(await (await import('/static/js/keep.js')).kept())"


def made(owner: BrowserContext, address: str, path: str, **told: Any) -> Any:
    return owner.request.post(f"{address}{path}", data=told).json()


def choose(page: Page, bench: str) -> None:
    page.get_by_label("Bench number or nickname").fill(bench)
    plate(page, "That is us").click()


def test_another_bench_and_a_tablet_that_is_out_keep_no_photo(browser: Browser, address: str) -> None:
    phone = browser.new_context(**PHONE, **ROUTED, extra_http_headers=FROM_AFAR)
    with (
        watched(browser.new_context(), address) as owner,
        watched(phone, address, excused=f"{NO_WAY}|{REFUSED}") as context,
    ):
        workshop = made(owner, address, "/workshops", name="Owls", day="2026-11-24")["id"]
        joins = f"/workshops/{workshop}/joins"
        made(context, address, "/join", code=made(owner, address, joins, role="bench")["code"])
        page = context.new_page()
        page.goto(f"{address}/rooms/help")
        choose(page, "7")
        page.evaluate(KEEP, {"id": "a"})
        plate(page, "Another bench").click()
        plate(page, "Bench 7").click()
        expect(plate(page, "I need help")).to_be_visible()
        assert page.evaluate(KEPT), "it is the same bench"

        page.evaluate(KEEP, {"id": None})
        plate(page, "Another bench").click()
        context.route("**/photos?*", lambda route: route.abort())
        choose(page, "8")
        expect(page.get_by_role("alert")).to_have_text("That did not go over. Press again.")
        assert page.evaluate(KEPT), "it was not sent yet, and nobody answers"
        context.unroute("**/photos?*")
        choose(page, "8")
        expect(plate(page, "I need help")).to_be_visible()
        assert not page.evaluate(KEPT)

        page.evaluate(KEEP, {"id": "a"})
        for answer in (lambda route: route.abort(), lambda route: route.fulfill(status=401, body="<p>Pay")):
            context.route("**/here", answer)
            page.goto(f"{address}/rooms/join")
            expect(page.locator("#code")).to_be_visible()
            assert page.evaluate(KEPT), "no network, or that of a hotel, is no reason to forget"
            context.unroute("**/here")

        page.goto(f"{address}/rooms/help")
        expect(plate(page, "I need help")).to_be_visible()
        device = owner.request.get(f"{address}{joins}").json()[0]["devices"][0]["id"]
        here = {"origin": address}
        assert owner.request.delete(f"{address}/workshops/{workshop}/devices/{device}", headers=here).ok
        expect(title(page)).to_have_text("This tablet is out.")
        page.wait_for_function(KEPT.replace("Boolean(", "!("))
