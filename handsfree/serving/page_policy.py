"""What a page may do, as a content security policy: its own style and script, and nothing that is fetched."""

import base64
import hashlib


def digest(content: str) -> str:
    """The source expression of a text that stands in a page: its SHA-256 (Content Security Policy Level 3, 2.3.1)."""
    return f"sha256-{base64.b64encode(hashlib.sha256(content.encode()).digest()).decode()}"


def page_policy(style: str, script: str, *, media: str = "data:", connect: bool = False) -> str:
    """The policy of a page of ours.

    Args:
        style: Its style sheet.
        script: Its script; "" where it has none.
        media: Where sound may come from.
        connect: Whether the page may talk to where it came from.
    """
    rules = [
        "default-src 'none'",
        f"style-src '{digest(style)}'",
        f"script-src '{digest(script)}'" if script else "script-src 'none'",
        f"media-src {media}",
        "img-src data:",
        "base-uri 'none'",
        "form-action 'none'",
    ]
    rules += ["connect-src 'self'"] if connect else []
    return "; ".join(rules)
