"""The whole examination as one readable function; no I/O."""
