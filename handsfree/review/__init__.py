"""Review of a closed record on this machine: listen, amend with reason, verify notes, attest."""
