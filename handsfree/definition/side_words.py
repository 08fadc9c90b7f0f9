"""What a prompt says of its visit: written as placeholders in the procedure file, said as words. Pure."""

from collections.abc import Mapping

from handsfree.model.readings import Side

SIDE_PLACEHOLDER = "{side}"
NUMBER_PLACEHOLDER = "{number}"
DECLARED_SIDE, SIZE, DEVICE = "{declared_side}", "{size}", "{device}"
VISIT_PLACEHOLDERS = frozenset({DECLARED_SIDE, SIZE, DEVICE})
"""Of the whole visit: the side that was declared, the size that was chosen, the device of the profile."""
_UNKNOWN: Mapping[str, str] = {DECLARED_SIDE: "side not known", SIZE: "size not known", DEVICE: "device not known"}


def with_side(text: str, side: Side | None) -> str:
    """A prompt with its side.

    Args:
        text: As the file has it, with or without the placeholder.
        side: The side, with a capital where the prompt begins with it; None leaves it out.
    """
    if side is None:
        for before, after in (("", " "), (" ", ""), ("", "")):  # with one of the blanks beside it
            text = text.replace(f"{before}{SIDE_PLACEHOLDER}{after}", "")
        return text
    words = side.value.capitalize() if text.startswith(SIDE_PLACEHOLDER) else side.value
    return text.replace(SIDE_PLACEHOLDER, words)


def on_paper(text: str) -> str:
    """A prompt for a card or a chart, on which nobody's side, size or device stands."""
    text = with_side(text, None).replace(NUMBER_PLACEHOLDER, "by number")
    for place, words in ((DECLARED_SIDE, "side"), (SIZE, "size"), (DEVICE, "device")):
        text = text.replace(place, words)
    return text


def with_visit(text: str, *, side: Side | None, size: str | None, device: str | None) -> str:
    """A prompt with what is known of the whole visit; what is not known is said so.

    Args:
        text: As the file has it, with or without placeholders.
        side: The side that was declared.
        size: The size that was chosen.
        device: The title of the device profile.
    """
    known = {DECLARED_SIDE: f"{side.value} side" if side is not None else None, SIZE: size, DEVICE: device}
    for place, words in known.items():
        text = text.replace(place, words or _UNKNOWN[place])
    return text
