"""Amounts as every export writes them. Pure."""


def as_written(amount: float) -> str:
    """An amount as the record writes it: 6 for 6.0."""
    return str(int(amount)) if amount == int(amount) else str(amount)
