"""Who may do what, and what a browser may be made to do."""
