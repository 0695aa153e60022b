"""What stands round the machine: supply, converter, load, instruments."""
