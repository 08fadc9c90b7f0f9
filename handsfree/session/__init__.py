"""The running visit: events in, effects out. Does no I/O and asks for no time."""
