"""Where the motor stood while it was recorded: supply, slip, speed, load."""
