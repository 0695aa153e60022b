"""Probability of a cage defect from the readings of all classes (docs/theory/fusion.md)."""
