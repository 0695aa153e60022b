"""Builders shared by tests."""
