"""The workbench in a browser: parse a request, call a use case, render. It computes nothing."""
