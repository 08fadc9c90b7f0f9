"""The shell around the core: tells the session what happened, writes the record, carries out what it asks for."""

from handsfree.runner.offline_run import Ears, run_blocks, run_typed
from handsfree.runner.session_clock import SessionClock
from handsfree.runner.session_runner import Outputs, SessionRunner

__all__ = ["Ears", "Outputs", "SessionClock", "SessionRunner", "run_blocks", "run_typed"]
