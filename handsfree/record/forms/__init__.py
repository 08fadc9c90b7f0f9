"""Forms of records: which there are, and how lines of each are read as what they state."""
