"""The append-only record: codec, journal, replay, verification, amendment, attestation."""
