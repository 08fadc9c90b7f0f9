"""A browser for tests of pages, and what axe finds in them."""

import shutil

import pytest


def chromium():
    """Where a browser is; skips with the reason where there is none."""
    pytest.importorskip("playwright", reason="browser tests need playwright (pip install handsfree[dev])")
    found = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    if found is None:
        pytest.skip("browser tests need chromium (apt-get install chromium)")
    return found


def serious(page, **where):
    """Rules of axe that are broken seriously or critically, with where."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="accessibility is checked with axe-core")
    found = axe.Axe().run(page, **where).response["violations"]
    return [(rule["id"], rule["nodes"][0]["target"]) for rule in found if rule["impact"] in {"serious", "critical"}]
