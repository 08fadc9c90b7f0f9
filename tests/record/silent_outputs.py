"""Outputs of a session that nobody hears or sees."""


class Nobody:
    """Outputs that nobody hears."""

    def say(self, text, priority, heard_out=0):
        del text, priority

    def earcon(self, earcon):
        del earcon

    def heard(self, hypothesis, outcome, probability):
        del hypothesis, outcome, probability

    def show(self, snapshot):
        del snapshot
