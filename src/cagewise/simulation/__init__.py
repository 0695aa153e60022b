"""Time-domain physics of machine, supply, load, faults and sensors: an independent witness."""
