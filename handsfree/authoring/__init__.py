"""For those who write procedures: checks before anybody uses one, charts, cards, and the form for editors."""
