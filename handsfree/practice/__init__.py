"""Practice: scenarios, scripted learners, scores, debriefing, ratings, learning curves."""
