"""The pages of practice in a real browser: Chromium without a window.

Accessibility rules are those of axe-core (W3C WCAG 2.2, checked by Deque's rules).
"""

from pathlib import Path

import pytest

from handsfree.cli import main
from handsfree.clock import SystemClock
from handsfree.practice.attempts import AttemptStore


@pytest.fixture(scope="module")
def pages(tmp_path_factory):
    folder = tmp_path_factory.mktemp("pages")
    store, record = str(folder / "attempts.jsonl"), str(folder / "record")
    practice = ["--scenario", "low-battery", "--learner", "hasty", "--typed", "--quiet", "--trainee", "L-01"]
    main(["practice", "light-output-check", *practice, "--record", record, "--attempts", store])
    main(["debrief", record, "--page", str(folder / "debrief.html")])
    # The same by a person: scripted attempts have no curve.
    (line,) = AttemptStore(Path(store), SystemClock()).attempts()
    by_a_person = line.scored.model_copy(update={"scripted": None, "record_id": "another"})
    AttemptStore(Path(store), SystemClock())._append("attempt_scored", by_a_person.model_dump(mode="json"))
    main(["progress", "show", "L-01", "--attempts", store, "--page", str(folder / "progress.html")])
    return folder


@pytest.mark.parametrize(("name", "title"), [("debrief", "PRACTICE: Light check"), ("progress", "PRACTICE: progress")])
def test_a_page_of_practice_opens_without_complaint_and_asks_the_network_for_nothing(window, pages, name, title):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="accessibility is checked with axe-core")
    address = (pages / f"{name}.html").as_uri()
    window.page.goto(address)
    assert window.page.title().startswith(title)
    assert [url for url in window.requests if url != address and not url.startswith("data:")] == []
    assert window.page.locator("svg").count() == 2
    found = axe.Axe().run(window.page).response["violations"]
    assert [rule["id"] for rule in found if rule["impact"] in {"serious", "critical"}] == []
