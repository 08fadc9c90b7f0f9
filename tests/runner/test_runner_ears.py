"""Whether words answer a question: not those that began before it was asked, though it wants the same answer."""

import threading
from functools import partial

import pytest

from handsfree.model.audio import AudioBlock, Heard
from handsfree.model.commands import Control, Wanted
from handsfree.model.hypotheses import Hypothesis
from handsfree.runner.listening_thread import LiveEars

YES_OR_NO = Wanted(frozenset({Control.AFFIRM, Control.NEGATE}))
NEXT = Wanted(frozenset({Control.NEXT_STEP}))
BLOCK = bytes(640)
BLOCK_S = 0.02


class Microphone:
    """Five blocks of silence; before each, what the test wants done."""

    notice = None
    overflows = 0

    def __init__(self, before, own_until_s=float("-inf")):
        self._before = before
        self._own_until_s = own_until_s
        self.over = threading.Event()
        self.held = []

    def __iter__(self):
        for number in range(5):
            self._before.get(number, lambda: None)()
            yield AudioBlock(BLOCK, number * BLOCK_S)
        self.over.set()

    def sounded(self, from_s, to_s):
        del to_s
        return from_s < self._own_until_s

    def hold_back(self, *, held):
        self.held.append(held)

    def close(self):
        pass


class Late:
    """Hears "affirmative" in the last block: it began with the second and ended with the third."""

    goes_on = speaking = False

    def listen_for(self, graph, is_unfinished):
        del graph, is_unfinished

    def accept(self, block):
        if block.start_s < 4 * BLOCK_S:
            return ()
        return (Hypothesis(("affirmative",), ("control:affirm",), BLOCK_S, 3 * BLOCK_S, "fake"),)

    def reset(self):
        pass


@pytest.mark.parametrize(
    ("asked_before_block", "answers"), [(0, Heard.ALL), (1, Heard.ALL), (2, Heard.NOTHING), (4, Heard.NOTHING)]
)
def test_words_that_began_before_a_question_answer_the_one_before_it(asked_before_block, answers):
    posted = []
    sound = Microphone({asked_before_block: lambda: ears.attend(YES_OR_NO, 1)})
    ears = LiveEars(sound, Late, posted.append, talk_over=False)
    ears.start(YES_OR_NO)
    assert sound.over.wait(60)
    (heard,) = posted
    assert heard.answers is answers
    assert heard.spoilt is None
    assert not any(sound.held)


@pytest.mark.parametrize(
    ("asked", "earlier"),
    [({3: YES_OR_NO}, NEXT), ({2: YES_OR_NO, 4: NEXT}, None), ({1: YES_OR_NO, 3: NEXT}, YES_OR_NO)],
)
def test_what_was_listened_for_when_they_began_goes_with_them_where_one_question_was_asked_since(asked, earlier):
    posted = []
    sound = Microphone(
        {block: partial(lambda wanted, number: ears.attend(wanted, number), wanted, number)
         for number, (block, wanted) in enumerate(asked.items(), 1)}
    )  # fmt: skip
    ears = LiveEars(sound, Late, posted.append, talk_over=False)
    ears.start(NEXT)
    assert sound.over.wait(60)
    (heard,) = posted
    assert (heard.answers, heard.earlier) == (Heard.NOTHING, earlier)


class Talking:
    """Somebody speaks from the second block to the fourth."""

    goes_on = speaking = False

    def listen_for(self, graph, is_unfinished):
        del graph, is_unfinished

    def accept(self, block):
        self.speaking = BLOCK_S <= block.start_s < 4 * BLOCK_S
        return ()

    def reset(self):
        pass


@pytest.mark.parametrize(
    ("own_until_s", "held"),
    [(float("-inf"), [False, True, True, True, False]), (BLOCK_S, [False, False, False, False, False])],
    ids=["began in silence", "what is left of the tool's own voice"],
)
def test_the_tool_does_not_begin_to_speak_while_somebody_does(own_until_s, held):
    sound = Microphone({}, own_until_s)
    ears = LiveEars(sound, Talking, [].append, talk_over=False)
    ears.start(YES_OR_NO)
    assert sound.over.wait(60)
    assert sound.held == held
