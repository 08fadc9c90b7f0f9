"""The page of the screen for the room: one text, which fetches nothing and listens to its server alone."""

from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import jinja2
from markupsafe import Markup

from handsfree.definition.profile_form import DeviceProfile
from handsfree.drawing.hand_picture import caption, hand_picture
from handsfree.model.readings import Side
from handsfree.serving.page_policy import page_policy

_TEMPLATES = files("handsfree.display.room").joinpath("templates")


@dataclass(frozen=True, slots=True)
class RoomPage:
    """What stays the same on the page for the whole of a run.

    Attributes:
        title: Title of the procedure.
        device: Profile whose zones are drawn; None where the procedure has no light.
        visit: Identifies the run.
    """

    title: str
    device: DeviceProfile | None
    visit: str

    def text(self) -> str:
        """The page."""
        hands = []
        if self.device is not None:
            for side in (*Side, None):
                name = side.value if side is not None else "unsaid"
                picture = hand_picture(self.device, side, name=f"hand-{name}")
                short = f"{name} hand, from the {self.device.seen_from}" if side is not None else "side not said yet"
                hands.append((side.value if side is not None else "", picture, caption(self.device, side), short))
        environment = jinja2.Environment(
            loader=jinja2.FunctionLoader(_template),
            autoescape=True,
            undefined=jinja2.StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
        )
        return environment.get_template("room.html.jinja").render(
            title=self.title,
            visit=self.visit,
            hands=hands,
            style=Markup(_template("room.css")),  # noqa: S704 - files of this package
            script=Markup(_template("room.js")),  # noqa: S704 - files of this package
        )


@cache
def room_policy() -> str:
    """Content security policy of the page, for a header."""
    return page_policy(_template("room.css"), _template("room.js"), connect=True)


def _template(name: str) -> str:
    return _TEMPLATES.joinpath(name).read_text(encoding="utf-8")
