"""cagewise: decide from measurements whether a squirrel-cage induction motor is defective."""

__version__ = "0.1.0"
