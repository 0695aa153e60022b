"""One folder per file format: specification, sniff, read."""
