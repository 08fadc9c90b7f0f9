"""The page of a record and a review, in a real browser: Chromium without a window.

Accessibility rules are those of axe-core (W3C WCAG 2.2, checked by Deque's rules).
"""

import json

import pytest
from browsers import serious
from report_visits import ended_early, rehearsed
from review_window import copied, served

from handsfree.record.amendments import amend
from handsfree.record.contents import Amended
from handsfree.record.verify import RecordState, verify
from handsfree.report.record_page import make_report

HOSTILE = '<img src=x onerror="document.title=1"><script>document.title=2</script>'


@pytest.fixture(scope="module")
def short(tmp_path_factory):
    pytest.importorskip("soundfile", reason="keeping sound needs the speech packages")
    folder = tmp_path_factory.mktemp("short")
    ended_early(folder, clips=True, understood=True)
    return folder


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    pytest.importorskip("soundfile", reason="keeping sound needs the speech packages")
    folder = tmp_path_factory.mktemp("whole")
    rehearsed("light-output-check", folder, clips=True, understood=True)
    return folder


@pytest.fixture
def review(whole, tmp_path):
    with served(copied(whole, tmp_path / "record"), tmp_path / "signing.key") as server:
        server.folder = tmp_path / "record"
        yield server


def shown(window, folder, tmp_path):
    path = tmp_path / "page.html"
    path.write_text(make_report(folder)[0], encoding="utf-8")
    window.page.goto(path.as_uri())
    return window.page


def is_drawn(page, picture):
    """Whether the elements of a picture take up room."""
    return page.eval_on_selector(
        picture,
        "svg => [...svg.querySelectorAll(':scope > rect, :scope > path')]"
        ".every(part => part.getBoundingClientRect().width > 0)",
    )


def test_the_page_of_a_fitting_has_every_picture_and_asks_the_network_for_nothing(window, tmp_path):
    rehearsed("ulnar-fitting", tmp_path / "fitting")
    page = shown(window, tmp_path / "fitting", tmp_path)
    assert [url for url in window.requests if not url.startswith(("file:", "data:"))] == []
    assert page.locator("svg[role=img]").count() == 1 + 1 + 5  # course, hand, a gauge for each of five zones
    for index in range(7):
        assert page.locator("svg[role=img]").nth(index).bounding_box()["width"] > 100
    assert is_drawn(page, "svg.drawing")
    assert page.locator("svg.drawing rect.lit").count() == 6
    assert page.locator("svg.drawing .mark.stop").count() == 1
    assert page.locator(".watermark").evaluate("mark => getComputedStyle(mark).position") == "fixed"
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.set_viewport_size({"width": 390, "height": 800})
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    # Contrast is checked on a shorter page: there it takes a tenth of the time, with the same style sheet.
    assert serious(page, options={"rules": {"color-contrast": {"enabled": False}}}) == []


def test_the_page_has_no_serious_fault_of_accessibility(window, short, tmp_path):
    page = shown(window, short, tmp_path)
    assert serious(page) == []


def test_what_is_open_is_seen_without_scrolling(window, short, tmp_path):
    page = shown(window, short, tmp_path)
    box = page.get_by_text("Hold not lifted: battery running low").first.bounding_box()
    assert box["y"] + box["height"] < 900


def test_the_keyboard_reaches_what_is_first_and_plays_an_utterance(window, short, tmp_path):
    page = shown(window, short, tmp_path)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to what to look at first"
    page.keyboard.press("Enter")
    for _ in range(20):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.matches('#first button.play')"):
            break
    page.keyboard.press("Enter")
    played = "() => [...document.querySelectorAll('audio')].some(sound => sound.played.length > 0)"
    page.wait_for_function(played)
    page.wait_for_function("() => !document.querySelector('button.play[aria-pressed=true]')")


def test_it_prints_with_every_reading_and_without_buttons(window, short, tmp_path):
    page = shown(window, short, tmp_path)
    page.emulate_media(media="print")
    assert page.locator("button.play").first.is_hidden()
    assert page.locator("nav").is_hidden()
    assert page.locator("#readings tbody").first.is_visible()
    for size in ("A4", "Letter"):
        assert page.pdf(format=size).startswith(b"%PDF-")


def test_a_page_under_review_has_the_foot_on_paper_and_its_policy_lets_it(window, review):
    page = window.page
    page.goto(review.address)
    foot = """() => [...document.styleSheets].flatMap(sheet => [...sheet.cssRules])
        .filter(rule => rule instanceof CSSPageRule).map(rule => rule.cssText).join(" ")"""
    head = json.loads((review.folder / "record.end").read_text(encoding="utf-8"))["head"]
    # A style that the policy does not let in has no rules.
    assert f'content: "head {head}"' in page.evaluate(foot)
    assert 'counter(page) " of " counter(pages)' in page.evaluate(foot)


def fill(page, **values):
    for name, value in values.items():
        page.locator(f"#act-{name}").fill(value)
    page.get_by_role("button", name="Add to the record").click()


def test_amend_refuse_listen_attest(window, review):
    page = window.page
    page.goto(review.address)
    before = (review.folder / "record.jsonl").read_bytes()
    page.get_by_role("button", name="Amend Condition, window").click()
    assert page.locator("#act-was").text_content() == "clean"

    fill(page, value="dirty", reason="", by="technician")  # the browser refuses what is empty
    assert page.locator("#act-reason").evaluate("field => field.validity.valueMissing")
    fill(page, value="dirty", reason="  ", by="technician")  # the server refuses what says nothing
    page.get_by_text("Refused: an amendment needs a role and a reason").wait_for()
    assert (review.folder / "record.jsonl").read_bytes() == before
    window.complaints[:] = [line for line in window.complaints if "status of 400" not in line]  # as it must

    fill(page, value="dirty", reason="wrong word", by="technician")
    page.get_by_role("status").get_by_text("amended by entry").wait_for()
    row = page.locator("#readings tr", has_text="dirty")
    assert row.locator("del").text_content() == "clean"
    assert "amended by technician" in row.text_content()

    page.locator("#readings button.play").first.click()
    page.wait_for_function("() => [...document.querySelectorAll('audio')].some(sound => sound.played.length > 0)")

    page.locator("#attest-by").fill("therapist")
    page.get_by_role("button", name="Attest this record").click()
    page.get_by_role("status").get_by_text("Attested. Head hash").wait_for()
    found = verify(review.folder)
    assert found.state is RecordState.ATTESTED
    assert found.head_hash in page.get_by_role("status").text_content()
    assert all(url.startswith(review.address) for url in window.requests if not url.startswith("data:"))


def test_a_hostile_note_stays_text_and_is_marked_as_verified(window, short, tmp_path):
    folder = copied(short, tmp_path / "record")
    entry = verify(folder).record.notes[0].recorded.seq
    amend(folder, entry, Amended(text=HOSTILE), by="<b>someone</b>", reason="<script>document.title=3</script>")
    with served(folder, tmp_path / "key") as server:
        page = window.page
        page.goto(server.address)
        title = page.title()
        assert page.locator(".dictated").text_content() == HOSTILE
        page.get_by_role("button", name="Mark as verified").click()
        assert page.locator("#act-was").text_content() == HOSTILE
        fill(page, by="technician")
        page.get_by_role("status").get_by_text("verified by entry").wait_for()
        assert "Read and verified by technician." in page.locator("#notes").text_content()
        assert page.locator("img").count() == 0
        assert page.title() == title
    assert verify(folder).record.notes[0].verified is True


def test_a_review_has_no_serious_fault_of_accessibility(window, review):
    page = window.page
    page.goto(review.address)
    page.get_by_role("button", name="Amend Condition, window").click()
    assert serious(page) == []


def test_another_page_can_neither_read_nor_change_a_review(browser, review, tmp_path):
    page = browser.new_page()
    (tmp_path / "other.html").write_text("<!DOCTYPE html><title>other</title>")
    page.goto((tmp_path / "other.html").as_uri())
    before = (review.folder / "record.jsonl").read_bytes()
    tried = page.evaluate(
        """async where => {
            const action = {method: "POST", body: '{"by":"x"}'};
            const headers = {"Content-Type": "application/json"};
            const done = await Promise.allSettled([
                fetch(where),
                fetch(where + "attest", {...action, headers}),
                fetch(where + "attest", {...action, mode: "no-cors"}),
            ]);
            return done.map(one => one.status === "fulfilled" ? one.value.type : "refused");
        }""",
        review.address,
    )
    page.close()
    assert tried[:2] == ["refused", "refused"]
    assert (review.folder / "record.jsonl").read_bytes() == before


def test_a_wrong_secret_shows_nothing(browser, review):
    page = browser.new_page()
    answer = page.goto(f"{review.origin}/{'x' * 43}/")
    body = json.loads(page.locator("body").text_content())
    page.close()
    assert answer.status == 403
    assert list(body) == ["refused"]


@pytest.mark.parametrize("how", [{"run_before_unload": True}, {}], ids=["as a person does", "at once"])
def test_closing_the_window_ends_the_review(browser, review, how):
    page = browser.new_page()
    with page.expect_response("**/window"):
        page.goto(review.address)
    assert not review.window_gone
    page.close(**how)
    for _ in range(1200):
        if review.window_gone:
            break
        review.thread.join(0.05)
    assert review.window_gone
    review.clock.sleep_until(10.0)
    review.thread.join(10)
    assert not review.thread.is_alive()


def test_loading_the_page_anew_ends_nothing(browser, review):
    page = browser.new_page()
    with page.expect_response("**/window"):
        page.goto(review.address)
    with page.expect_response("**/window"):
        page.reload()
    for _ in range(1200):
        if not review.window_gone:
            break
        review.thread.join(0.05)
    review.clock.sleep_until(10.0)
    assert not review.over
    page.close()


def test_a_page_whose_review_has_ended_says_so(window, whole, tmp_path):
    with served(copied(whole, tmp_path / "record"), tmp_path / "key") as server:
        window.page.goto(server.address)
        window.page.get_by_role("button", name="Amend Condition, window").click()
    fill(window.page, value="dirty", reason="late", by="technician")
    window.page.get_by_text("The review has ended; nothing was added.").wait_for()
    assert window.page.locator("#gone").is_visible()
    window.complaints[:] = [line for line in window.complaints if "ERR_CONNECTION_REFUSED" not in line]  # as it must
