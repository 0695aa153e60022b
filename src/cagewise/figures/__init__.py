"""Results to figures; no computing."""
