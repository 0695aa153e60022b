"""Numbers to for / against / cannot tell, per hypothesis."""
