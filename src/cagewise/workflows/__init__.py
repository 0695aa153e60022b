"""Use cases shared by every face of the program."""
