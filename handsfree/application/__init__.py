"""What several commands share: opening and resuming a visit, its baseline, sound devices and the sound check."""
