"""What every test shares: made-up examples are the same in every run, and no clock of the wall decides."""

import gc

import pytest
from hypothesis import settings

settings.register_profile("house", deadline=None, derandomize=True)
settings.load_profile("house")


def pytest_collection_finish():
    """What stands for the whole run is not gone through again at each search for garbage."""
    gc.collect()
    gc.freeze()


@pytest.fixture(scope="session")
def browser():
    """One headless browser for all tests; nothing outside this machine can be reached through it."""
    from browsers import chromium

    program = chromium()
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=program, args=["--no-sandbox"])
        yield browser
        browser.close()
