"""Lines beside a carrier: windows, fits, floors, pairs."""
