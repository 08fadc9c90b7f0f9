"""The shell around the core: tells the session what happened, writes the record, carries out what it asks for."""

from handsfree.runner.conductor import Conductor, Outputs, stamp
from handsfree.runner.counted import Ears, run_blocks, run_typed
from handsfree.runner.resumed import ResumedClock

__all__ = ["Conductor", "Ears", "Outputs", "ResumedClock", "run_blocks", "run_typed", "stamp"]
