import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[1] / "report"))


@pytest.fixture(scope="session")
def browser():
    """One headless browser for all tests; nothing outside this machine can be reached through it."""
    from review_window import chromium

    program = chromium()
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=program, args=["--no-sandbox"])
        yield browser
        browser.close()


@pytest.fixture
def window(browser):
    """A new window; the test fails where it complained."""
    from review_window import Window

    context = browser.new_context(viewport={"width": 1280, "height": 900})
    context.set_default_timeout(10_000)
    opened = Window(context.new_page())
    yield opened
    context.close()
    assert opened.complaints == []
