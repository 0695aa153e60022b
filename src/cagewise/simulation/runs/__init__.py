"""What is done with the machine: steady runs and starts, at what terminals, and their record."""
