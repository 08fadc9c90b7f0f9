"""A microphone or loudspeaker that is lost, and comes back."""

from handsfree.model.effects import Earcon, Priority
from handsfree.model.events import SoundLost, SoundReturned
from handsfree.model.facts import DeviceLost, DeviceReturned
from handsfree.session.context import EventContext, Reply, Then
from handsfree.session.interruptions import cut_light
from handsfree.session.modes import Mode
from handsfree.session.prompts.sentence_codes import DeviceGone


def device_lost(now: EventContext) -> Reply:
    """A sound device went away; without a microphone nobody hears "light off"."""
    event = now.event
    assert isinstance(event, SoundLost)  # noqa: S101 - dispatch calls it for these
    what = "loudspeaker" if event.what == "loudspeaker" else "microphone"
    reply = Reply([DeviceLost(what="loudspeaker" if what == "loudspeaker" else "microphone")], [Earcon.DEVICE_LOST])
    reply.say(DeviceGone(what), priority=Priority.ATTENTION)
    if what == "microphone" and cut_light(now, reply):
        # Nobody heard what happened meanwhile: as after a break.
        now.state.modes.rest(Mode.RECONFIRM)
        reply.then = Then.ASK
    return reply


def device_returned(now: EventContext) -> Reply:
    """The device is back."""
    event = now.event
    assert isinstance(event, SoundReturned)  # noqa: S101 - dispatch calls it for these
    return Reply([DeviceReturned(what="loudspeaker" if event.what == "loudspeaker" else "microphone")])
