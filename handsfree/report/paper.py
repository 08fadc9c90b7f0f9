"""What stands at the foot of every printed page of a record. Pure."""

from handsfree.record.contents import Record

_PLAIN = frozenset("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789 .,-")


def paper_style(record: Record) -> str:
    """Boxes in the margin of paper: the record, page and count of pages, the hash of its last line.

    Source: CSS Paged Media Module Level 3, margin boxes and the counters page and pages.
    """
    practice = "PRACTICE. " if record.practice else ""
    left = css_text(f"{practice}Record {record.header.record_id}")
    font = "font: 6.5pt system-ui, sans-serif; color: #000;"
    return (
        "\n@page {\n"
        f"  @bottom-left {{ content: {left}; {font} }}\n"
        f'  @bottom-center {{ content: "page " counter(page) " of " counter(pages); {font} }}\n'
        f"  @bottom-right {{ content: {css_text(f'head {record.head}')}; {font} }}\n"
        "}\n"
    )


def css_text(words: str) -> str:
    """Words as a string of a style sheet: whatever is no plain letter is written by its number (CSS Syntax Level 3)."""
    return '"' + "".join(one if one in _PLAIN else f"\\{ord(one):x} " for one in words) + '"'
