"""People who narrate a visit by typed lines."""

from talking import Talk

from handsfree.model.events import CommandSpoken
from handsfree.model.working import Working
from handsfree.understanding.interpreter import interpret, typed

SIDES = "order right, consent right, image right, patient right, mark right"
WALL = "2026-11-25T09:00:00.000Z"


class Narrator(Talk):
    """People who type what they would say."""

    def __init__(self, bundle, **session):
        super().__init__(bundle, **{"working": Working.NARRATED, "going_on": True, **session})

    def line(self, text):
        """Say one line; None where it is nothing that may be said now."""
        heard = typed(text, self.session.wanted, self.now_s)
        command = interpret(heard, self.session.wanted) if heard is not None else None
        self.now_s += 2.0
        if command is None:
            self.reject()
            return None
        event = CommandSpoken(at_s=self.now_s, wall=WALL, command=command, heard=heard, probability=1.0)
        self.send(event)
        return command

    def lines(self, *texts):
        for text in texts:
            assert self.line(text) is not None, text
        return self

    def confirmed(self):
        return {f"{one.stage}.{one.field}": one.read_back for one in self.facts("reading_confirmed")}

    def values(self):
        return {f"{one.stage}.{one.field}": one.value for one in self.facts("reading_proposed")}


def sides_checked(bundle, **session):
    """A narrator whose right side is checked: findings come next."""
    return Narrator(bundle, **session).lines("practice session", SIDES, "affirmative")
