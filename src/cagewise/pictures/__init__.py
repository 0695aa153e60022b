"""What a reading looks like: curves, images and markers computed from measurements; no drawing."""
