"""Light exposure, zone ledger, heat and eye-hazard arithmetic. Pure."""
