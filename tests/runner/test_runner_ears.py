"""Whether words answer a question: not those that began before it was asked, though it wants the same answer."""

import threading

import pytest

from handsfree.model.audio import AudioBlock
from handsfree.model.commands import Control, Wanted
from handsfree.model.events import RejectionReason
from handsfree.model.hypotheses import Hypothesis
from handsfree.runner.listening_thread import LiveEars

YES_OR_NO = Wanted(frozenset({Control.AFFIRM, Control.NEGATE}))
SPOILT = RejectionReason.NOT_UNDERSTOOD
BLOCK = bytes(640)
BLOCK_S = 0.02


class Microphone:
    """Five blocks of silence; before each, what the test wants done."""

    notice = None
    overflows = 0

    def __init__(self, before):
        self._before = before
        self.over = threading.Event()

    def __iter__(self):
        for number in range(5):
            self._before.get(number, lambda: None)()
            yield AudioBlock(BLOCK, number * BLOCK_S)
        self.over.set()

    def sounded(self, from_s, to_s):
        del from_s, to_s
        return False

    def hold_back(self, *, held):
        assert not held

    def close(self):
        pass


class Late:
    """Hears "affirmative" in the last block: it began with the second and ended with the third."""

    goes_on = False

    def listen_for(self, graph, is_unfinished):
        del graph, is_unfinished

    def accept(self, block):
        if block.start_s < 4 * BLOCK_S:
            return ()
        return (Hypothesis(("affirmative",), ("control:affirm",), BLOCK_S, 3 * BLOCK_S, "fake"),)

    def reset(self):
        pass


@pytest.mark.parametrize(("asked_before_block", "spoilt"), [(0, None), (1, None), (2, SPOILT), (4, SPOILT)])
def test_words_that_began_before_a_question_answer_the_one_before_it(asked_before_block, spoilt):
    posted = []
    sound = Microphone({asked_before_block: lambda: ears.attend(YES_OR_NO, 1)})
    ears = LiveEars(sound, Late, posted.append, talk_over=False)
    ears.start(YES_OR_NO)
    assert sound.over.wait(60)
    (heard,) = posted
    assert heard.spoilt is spoilt
