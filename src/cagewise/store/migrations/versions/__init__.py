"""One file per revision. A revision that was published is never edited."""
