"""What the impedance of the standing motor shows, against the position of its rotor."""
