"""From words to meaning: grammars, spoken numbers, dates, identifiers, accept/ask/reject. Pure."""
