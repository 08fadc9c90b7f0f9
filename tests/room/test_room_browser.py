"""A whole scripted visit on the screen for the room, in a real Chromium: what is seen at its moments.

Sizes: ISO 9241 asks for capitals of at least 16 minutes of arc, better 20 to 22 (quoted in NUREG-0700 rev. 2, 1.3.1);
seen from two metres on a screen of 24 inch, 16 : 10, which is 517 mm wide. Contrast: WCAG 2.2, 1.4.6 (AAA, 7 to 1). A
tablet of 10 inch, 135 mm wide, is looked at from one metre. Accessibility: axe-core.
"""

import math
import threading

import pytest
from browsers import serious
from screen_visit import shown_visit

DESK_MM, TABLET_MM = 517.0, 135.0
SIZES = {
    "desk": (1280, 800, {}),
    "upright": (800, 1280, {}),
    "forced": (1280, 800, {"forced_colors": "active", "reduced_motion": "reduce"}),
}

SEEN = """() => {
  const shown = (one) => one.checkVisibility() && one.getBoundingClientRect().width > 0;
  const at = (id) => document.getElementById(id);
  const text = (id) => at(id) && shown(at(id)) ? at(id).textContent.trim() : "";
  const context = document.createElement("canvas").getContext("2d");
  const capital = (one) => {
    const style = getComputedStyle(one);
    context.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
    return context.measureText("H").actualBoundingBoxAscent;
  };
  const own = (one) => [...one.childNodes].some((node) => node.nodeType === 3 && node.textContent.trim());
  const leaves = [...document.querySelectorAll("body *")]
    .filter((one) => shown(one) && !one.closest("svg") && own(one));
  // What was heard ends in an ellipsis where it is longer than its line.
  const outside = leaves.filter((one) => !one.closest("#heard")).filter((one) => {
    const box = one.getBoundingClientRect();
    return box.left < -1 || box.top < -1 || box.right > innerWidth + 1 || box.bottom > innerHeight + 1;
  }).map((one) => one.textContent);
  const boxes = ["step", "prompt", "answer", "dial", "hands", "zones", "state", "hold", "heard"].map(at)
    .filter((one) => shown(one) && getComputedStyle(one).display !== "contents")
    .map((one) => [one.id, one.getBoundingClientRect()]);
  const meet = (a, b) => Math.min(a.right, b.right) - Math.max(a.left, b.left) > 2
    && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 2;
  const crossing = boxes.flatMap(([name, a]) => boxes.filter(([other, b]) => name < other && meet(a, b))
    .map(([other]) => `${name}/${other}`));
  const light = (rgb) => {
    const linear = (part) => part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4;
    const [r, g, b] = rgb.match(/[\\d.]+/g).map((part) => linear(Number(part) / 255));
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const ground = (one) => {
    for (let is = one; is; is = is.parentElement) {
      const colour = getComputedStyle(is).backgroundColor;
      if (!colour.endsWith(", 0)")) return colour;
    }
    return "rgb(255, 255, 255)";
  };
  const contrast = (one) => {
    const [a, b] = [light(getComputedStyle(one).color), light(ground(one))].sort((x, y) => y - x);
    return (a + 0.05) / (b + 0.05);
  };
  const figure = [...document.querySelectorAll("figure")].find(shown);
  const filled = (one) => [Number(one.querySelector(".light").getAttribute("height")), one.getAttribute("class")];
  const names = ["step", "prompt", "say", "hold", "hold-why", "seconds", "target", "zone", "over", "strip", "items",
    "values", "zones", "heard", "practice", "doing"];
  return {
    words: Object.fromEntries(names.map((id) => [id, text(id)])),
    side: figure ? figure.dataset.side : null,
    picture: figure ? figure.querySelector("title").textContent : "",
    filled: Object.fromEntries((figure ? [...figure.querySelectorAll(".zone")] : [])
      .map((one) => [one.dataset.zone, filled(one)])),
    least: Math.min(...leaves.map(capital)),
    main: Math.min(...["prompt", "say"].map(at).filter(shown).map(capital)),
    contrast: Math.min(...leaves.map(contrast)),
    outside, crossing, moving: document.getAnimations().length,
    scrolls: document.documentElement.scrollWidth > innerWidth || document.documentElement.scrollHeight > innerHeight,
    ring: document.querySelector("#ring .gone").getAttribute("stroke-dasharray"),
    beyond: getComputedStyle(document.querySelector("#ring .beyond")).stroke,
  };
}"""


def minutes_of_arc(capital_px, px, mm, metres):
    """Angle under which a capital is seen."""
    return 60 * math.degrees(math.atan(capital_px * mm / px / (1000 * metres)))


@pytest.fixture(scope="module")
def visit(browser, tmp_path_factory):
    """What was seen of the whole visit, by moment and kind of screen; what axe found; what was asked for and said."""
    seen, faults, requests, complaints = {}, {}, set(), []
    pages = {}
    for name, (width, height, how) in SIZES.items():
        context = browser.new_context(viewport={"width": width, "height": height}, **how)
        page = pages[name] = context.new_page()
        page.set_default_timeout(20_000)
        page.on("request", lambda request: requests.add(request.url))
        page.on("console", lambda message: complaints.append(message.text))
        page.on("pageerror", lambda error: complaints.append(str(error)))

    def told(moment, room):
        for name, page in pages.items():
            page.wait_for_function("version => Number(document.body.dataset.version) >= version", arg=room.version)
            seen[moment, name] = page.evaluate(SEEN)
        pages["desk"].emulate_media(color_scheme="dark")
        seen[moment, "dark"] = pages["desk"].evaluate(SEEN)
        pages["desk"].emulate_media(color_scheme="light")
        if moment in {"over", "held"}:
            faults[moment] = serious(pages["desk"])

    with shown_visit(tmp_path_factory.mktemp("shown") / "record", told) as (server, play):
        for page in pages.values():
            page.goto(server.address, wait_until="domcontentloaded")
        outcome = play()
        address = server.address
    ended = [page.locator("#lost").inner_text() for page in pages.values() if page.wait_for_selector("#lost")]
    for page in pages.values():
        page.context.close()
    return {"seen": seen, "faults": faults, "requests": requests, "complaints": complaints, "outcome": outcome,
            "address": address, "ended": ended}  # fmt: skip


MOMENTS = ("said-back", "gate", "before-light", "lit", "over", "held")


def test_the_visit_came_to_its_end_with_every_moment_seen_and_asked_nobody_else(visit):
    assert visit["outcome"] == "completed_with_overrides"
    assert {moment for moment, _ in visit["seen"]} == {*MOMENTS, "closed"}
    assert visit["requests"] == {visit["address"], visit["address"] + "events"}
    assert visit["complaints"] == []


def test_axe_finds_nothing(visit):
    assert visit["faults"] == {"over": [], "held": []}


@pytest.mark.parametrize("kind", SIZES)
@pytest.mark.parametrize("moment", MOMENTS)
def test_everything_is_on_the_screen_and_nothing_over_another_or_moving(visit, moment, kind):
    seen = visit["seen"][moment, kind]
    assert (seen["outside"], seen["crossing"], seen["scrolls"], seen["moving"]) == ([], [], False, 0)
    assert seen["words"]["step"]
    assert seen["words"]["prompt"]
    assert seen["words"]["heard"]
    assert seen["words"]["practice"] == "PRACTICE"


@pytest.mark.parametrize("moment", MOMENTS)
def test_letters_can_be_read_from_two_metres_and_from_a_tablet_at_one(visit, moment):
    desk, tablet = visit["seen"][moment, "desk"], visit["seen"][moment, "upright"]
    assert minutes_of_arc(desk["least"], 1280, DESK_MM, 2.0) >= 16
    assert minutes_of_arc(desk["main"], 1280, DESK_MM, 2.0) >= 20
    assert minutes_of_arc(tablet["least"], 800, TABLET_MM, 1.0) >= 16


@pytest.mark.parametrize("kind", ["desk", "upright", "dark"])
@pytest.mark.parametrize("moment", MOMENTS)
def test_contrast_is_that_of_the_highest_level(visit, moment, kind):
    assert visit["seen"][moment, kind]["contrast"] >= 7


def test_before_light_the_hand_is_dark_and_of_the_side_that_was_declared(visit):
    seen = visit["seen"]["before-light", "desk"]
    assert seen["side"] == "right"
    assert all(height == 0 for height, _ in seen["filled"].values())
    assert "1 fracture side: 0/6 s" in seen["picture"]


def test_while_lit_zone_and_ring_fill_by_what_is_credited(visit):
    seen = visit["seen"]["lit", "desk"]
    words = seen["words"]
    assert words["zone"] == "1 fracture side"
    share = float(words["seconds"]) / 6
    assert words["target"] == "of 6 s"
    assert 0.5 < share < 0.8
    assert float(seen["ring"].split()[0]) == pytest.approx(100 * share, abs=1)
    height, kind = seen["filled"]["fracture_side"]
    assert height == pytest.approx(share * 21, abs=0.6), "the outline of the profile is 21 units high"
    assert "now" in kind
    assert words["say"] == "light off"


def test_over_time_is_told_in_words_and_by_shape(visit):
    for kind in SIZES:
        seen = visit["seen"]["over", kind]
        assert seen["words"]["over"].startswith("OVER by ")
        assert seen["beyond"] != "none"
        assert "over" in seen["filled"]["strap_strip"][1]
        assert "over" in seen["words"]["zones"]


def test_a_hold_fills_the_screen_with_why_and_what_to_say(visit):
    for kind in SIZES:
        words = visit["seen"]["held", kind]["words"]
        assert words["hold"].startswith("HELD")
        assert words["hold-why"]
        assert "override" in words["say"]
        assert (words["zones"], words["items"]) == ("", "")


def test_a_gate_lists_what_is_missing_and_what_stands(visit):
    words = visit["seen"]["gate", "desk"]["words"]
    assert "eyewear" in words["items"]
    assert "missing" in words["prompt"].lower()


def test_the_end_is_told_as_the_end_and_nothing_of_the_visit_stays(visit):
    assert all("NOT LIVE" in text and "The visit has ended." in text for text in visit["ended"])


def test_a_pedal_in_the_page_does_nothing_and_is_told_so_and_a_lost_connection_is_told_too(browser, tmp_path):
    page = browser.new_page()
    asked = []
    page.on("request", lambda request: asked.append(request.method))
    over = threading.Event()
    with shown_visit(tmp_path / "record", lambda *_: None) as (server, _):
        page.goto(server.address, wait_until="domcontentloaded")
        page.wait_for_function("() => !document.body.classList.contains('waiting')")
        page.keyboard.press("PageDown")
        assert "the pedal counts in the terminal" in page.locator("#notice").inner_text()
        assert asked == ["GET", "GET"], "the page and its events, no word of the key"
        # As if a cable were pulled: the connection stands, and nothing comes any more; then time passes.
        server.screen.wait = lambda seen: (over.wait(60), (seen, "{}"))[1]
        page.wait_for_timeout(1200)
        page.evaluate("performance.now = ((was) => () => was() + 1e5)(performance.now.bind(performance))")
        page.wait_for_function("() => document.body.classList.contains('waiting')")
        assert "The connection to the tool is lost." in page.locator("#lost").inner_text()
        assert not page.locator("#prompt").is_visible()
        page.close()
        over.set()
