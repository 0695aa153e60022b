"""What is known of the motor: nameplate, equivalent circuit, cage data, characteristic lines."""
