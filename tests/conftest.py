"""What every test shares: made-up examples are the same in every run, and no clock of the wall decides."""

import gc

from hypothesis import settings

settings.register_profile("house", deadline=None, derandomize=True)
settings.load_profile("house")


def pytest_collection_finish():
    """What stands for the whole run is not gone through again at each search for garbage."""
    gc.collect()
    gc.freeze()
