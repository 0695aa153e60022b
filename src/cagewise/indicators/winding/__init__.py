"""What tests of the stator winding and its insulation show."""
