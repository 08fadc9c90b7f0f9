"""Scripted people, their voices and their room, and the rehearsal that they play."""
