"""The coupled equations of machine and load, and the steady state they begin from."""
