"""What a person sees: a conversation line by line, or a screen that is read from two metres."""

from handsfree.display.conversation_view import ConversationView
from handsfree.display.live_screen import LiveScreen

__all__ = ["ConversationView", "LiveScreen"]
