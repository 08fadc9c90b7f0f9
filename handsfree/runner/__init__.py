"""The shell around the core: tells the session what happened, has it written, carries out what it asks for."""

from handsfree.runner.line_inbox import LineInbox, is_typed_into
from handsfree.runner.offline_run import Ears, run_blocks, run_typed
from handsfree.runner.session_clock import SessionClock
from handsfree.runner.session_runner import Outputs, SessionRunner
from handsfree.runner.view import BothViews, View

__all__ = [
    "BothViews",
    "Ears",
    "LineInbox",
    "Outputs",
    "SessionClock",
    "SessionRunner",
    "View",
    "is_typed_into",
    "run_blocks",
    "run_typed",
]
