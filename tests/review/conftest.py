import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[1] / "report"))


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
