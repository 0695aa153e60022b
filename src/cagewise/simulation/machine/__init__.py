"""The machine: dimensions and winding, cage and its damage, gap, saturation, and what they make."""
