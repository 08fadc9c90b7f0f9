"""An offline voice companion for procedures done with both hands busy."""

__version__ = "0.2.0"
