"""Frozen values that cross borders between packages. Standard library only."""
