"""What every test shares: made-up examples are the same in every run, and no clock of the wall decides."""

from hypothesis import settings

settings.register_profile("house", deadline=None, derandomize=True)
settings.load_profile("house")
