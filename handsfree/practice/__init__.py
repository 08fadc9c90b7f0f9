"""Rehearsal and practice: scripted people, scenarios, scoring."""
