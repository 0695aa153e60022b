"""What a start shows: how fast it was, and the side line that crosses the spectrum."""
