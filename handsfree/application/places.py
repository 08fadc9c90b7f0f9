"""Where this installation keeps what no command was told a place for."""

from pathlib import Path

import platformdirs

_NAME = "handsfree"


def usual_config() -> Path:
    """The configuration file that is read where none is named; it need not be there."""
    return Path(platformdirs.user_config_dir(_NAME, appauthor=False)) / "config.toml"


def usual_key() -> Path:
    """The signing key of this installation; made on first use."""
    return Path(platformdirs.user_data_dir(_NAME, appauthor=False)) / "signing.key"


def usual_attempts() -> Path:
    """The store of attempts of this user."""
    return Path(platformdirs.user_data_dir(_NAME, appauthor=False)) / "attempts.jsonl"


def prompt_cache() -> Path:
    """Where rendered prompts are kept between runs."""
    return Path(platformdirs.user_cache_dir(_NAME, appauthor=False)) / "prompts"


def echo_checks() -> Path:
    """What the sound checks of this user's devices found about their echo."""
    return Path(platformdirs.user_data_dir(_NAME, appauthor=False)) / "echo-checks.json"


def trial_cache() -> Path:
    """Where the results of checks by sound are kept between runs."""
    return Path(platformdirs.user_cache_dir(_NAME, appauthor=False)) / "acoustic.json"
