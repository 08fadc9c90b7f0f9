"""Fold a record into a summary and a page that a reviewer can read."""
