"""What the cage of the running motor shows; every file answers one question."""
