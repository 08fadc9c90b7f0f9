"""The page of an awkward visit as it is seen: on a phone, enlarged, in the dark, on paper, by keyboard. Chromium.

Sizes: WCAG 2.2, 1.4.4 (text at 200 %) and 1.4.10 (reflow at 320 CSS pixels; 360 is a common phone); colours: axe-core.
Page boxes: CSS Paged Media Module Level 3.
"""

import re
import zlib
from datetime import date

import pytest
from awkward_visits import AWKWARD
from browsers import serious

from handsfree.report.day import day_of, day_page
from handsfree.report.record_page import make_report


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A visit with heat, a zone that was left, and open items."""
    place = tmp_path_factory.mktemp("awkward") / "record"
    AWKWARD["hot_and_nobody_said_off"](place)
    return place


@pytest.fixture(scope="module")
def red(tmp_path_factory):
    """A visit with a red finding that was overridden."""
    place = tmp_path_factory.mktemp("red") / "record"
    AWKWARD["red_finding_overridden"](place)
    return place


def opened(browser, file, **how):
    context = browser.new_context(**{"viewport": {"width": 1280, "height": 900}, **how})
    context.set_default_timeout(10_000)
    page = context.new_page()
    page.goto(file.as_uri())
    return page


@pytest.fixture(scope="module")
def file(folder, tmp_path_factory):
    path = tmp_path_factory.mktemp("page") / "page.html"
    path.write_text(make_report(folder)[0], encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def red_file(red, tmp_path_factory):
    path = tmp_path_factory.mktemp("page") / "page.html"
    path.write_text(make_report(red)[0], encoding="utf-8")
    return path


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_it_has_no_serious_fault_of_accessibility(browser, file, scheme):
    page = opened(browser, file, color_scheme=scheme)
    assert serious(page, context="#first") == []
    assert serious(page, context="#visit") == []
    assert serious(page, context="#light") == []
    page.context.close()


def test_the_dark_page_is_dark_and_paper_stays_white(browser, file):
    page = opened(browser, file, color_scheme="dark")
    ground = "getComputedStyle(document.documentElement).backgroundColor"
    levels = [int(part) for part in re.findall(r"\d+", page.evaluate(ground))]
    assert max(levels[:3]) < 64
    page.emulate_media(media="print")
    assert page.evaluate(ground) == "rgb(255, 255, 255)"
    page.context.close()


@pytest.mark.parametrize(("width", "height"), [(360, 780), (320, 640)])
def test_a_phone_shows_it_without_scrolling_sideways_and_first_things_first(browser, file, width, height):
    page = opened(browser, file, viewport={"width": width, "height": height})
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    box = page.locator("#first .mark.stopped").first.bounding_box()
    assert box["y"] + box["height"] < height
    page.context.close()


def test_a_phone_shows_every_value_beside_its_label(browser, red_file):
    page = opened(browser, red_file, viewport={"width": 360, "height": 780})
    values = page.locator("#readings .value")
    assert values.count() > 100
    places = page.eval_on_selector_all(
        "#readings tr",
        """rows => rows.filter(row => row.querySelector('.value')).map(row => {
            const label = row.querySelector('th[scope=row]').getBoundingClientRect();
            const value = row.querySelector('.value').getBoundingClientRect();
            return [value.left, value.right, innerWidth, Math.abs(label.top - value.top)];
        })""",
    )
    assert all(0 <= left < right <= width and apart < 12 for left, right, width, apart in places)
    page.context.close()


def test_text_of_twice_the_size_fits(browser, file):
    # Enlarged by the browser, a window of 1280 pixels is laid out as one of 640; and by text alone (WCAG 2.2, 1.4.4).
    page = opened(browser, file, viewport={"width": 640, "height": 450}, device_scale_factor=2)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.context.close()
    page = opened(browser, file, bypass_csp=True)
    page.add_style_tag(content="html { font-size: 200% }")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    cut = page.eval_on_selector_all(
        "#first .what, #first .statuses li", "all => all.filter(one => one.scrollWidth > one.clientWidth + 1).length"
    )
    assert cut == 0
    page.context.close()


def test_the_keyboard_opens_what_is_folded_and_follows_an_entry(browser, file):
    page = opened(browser, file)
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    assert page.locator("#first details").get_attribute("open") is None
    for _ in range(20):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.matches('#first summary')"):
            break
    page.keyboard.press("Enter")
    assert page.locator("#first details").get_attribute("open") is not None
    for _ in range(3):
        page.keyboard.press("Shift+Tab")
        if page.evaluate("document.activeElement.matches('#first .look a')"):
            break
    entry = page.evaluate("document.activeElement.getAttribute('href')")
    page.keyboard.press("Enter")
    page.wait_for_function("where => document.querySelector(where).checkVisibility()", arg=entry)
    page.context.close()


def test_the_marks_of_the_kinds_are_told_apart_without_colour(browser, file, red_file):
    signs = {}
    for one in (file, red_file):
        page = opened(browser, one)
        signs |= dict(
            page.eval_on_selector_all(
                "#first .look .mark",
                "all => all.map(one => [one.textContent, getComputedStyle(one, '::before').content])",
            )
        )
        page.context.close()
    assert {"Stopped", "Overridden", "Red finding", "Light off target", "Changed", "Open"} <= set(signs)
    assert len(set(signs.values())) == len(signs)


def test_everything_that_is_red_is_marked_so_in_the_table(browser, red_file):
    page = opened(browser, red_file)
    row = page.locator("#readings tr.graded.red")
    assert row.count() == 1
    assert row.locator(".badge.flag.red").text_content() == "Red flag"
    page.context.close()


def drawn(pdf):
    """How many pieces of text a PDF draws (ISO 32000-1, 9.4.3: Tj and TJ)."""
    count = 0
    for part in re.findall(rb"stream\r?\n(.*?)endstream", pdf, re.DOTALL):
        try:
            count += len(re.findall(rb"\bT[jJ]\b", zlib.decompress(part)))
        except zlib.error:
            continue
    return count


def test_paper_has_a_foot_with_record_page_and_head_and_points_to_the_log(browser, file, folder):
    page = opened(browser, file, bypass_csp=True)
    page.emulate_media(media="print")
    assert page.locator("#log .on-paper").is_visible()
    assert page.locator("#first .mark.stopped").first.is_visible()
    style = page.locator("style").text_content()
    head = re.search(r'"head": ?"([0-9a-f]{64})"', (folder / "record.end").read_text(encoding="utf-8"))[1]
    foot = style[style.index("@bottom-left") :]
    assert f'content: "head {head}"' in foot
    assert 'content: "page " counter(page) " of " counter(pages)' in foot
    assert re.search(r'content: "Record [0-9a-f-]{36}"', foot)
    with_foot = page.pdf(format="A4")
    pages = len(re.findall(rb"/Type\s*/Page\b(?!s)", with_foot))
    assert pages >= 2
    none = "".join(f"@bottom-{place} {{ content: none }} " for place in ("left", "center", "right"))
    page.add_style_tag(content=f"@page {{ {none} }}")
    assert drawn(with_foot) >= drawn(page.pdf(format="A4")) + 3 * pages
    page.context.close()


def test_the_page_of_a_day_fits_a_phone_and_the_dark(browser, folder, tmp_path):
    path = tmp_path / "day.html"
    path.write_text(day_page(day_of(folder.parent, date(2026, 11, 25))), encoding="utf-8")
    for how in ({"viewport": {"width": 360, "height": 780}}, {"color_scheme": "dark"}):
        page = opened(browser, path, **how)
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        assert serious(page) == []
        page.context.close()
