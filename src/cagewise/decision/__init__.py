"""Evidence to what to do, by when; every threshold has a unit and a source."""
