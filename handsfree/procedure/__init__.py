"""Procedure files, their compiler, and the session that walks them. Pure."""
