"""Samples to numbers with uncertainty and validity; one physical question per file; no opinion."""
