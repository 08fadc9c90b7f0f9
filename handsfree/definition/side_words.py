"""The side in a prompt: written as a placeholder in the procedure file, said as a word. Pure."""

from handsfree.model.readings import Side

SIDE_PLACEHOLDER = "{side}"


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
