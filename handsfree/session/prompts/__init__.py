"""Every sentence that a visit can say, by code with typed arguments."""
