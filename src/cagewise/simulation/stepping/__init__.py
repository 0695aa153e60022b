"""Steps through time: the readable ones, their compiled twin, and the engine that takes them."""
