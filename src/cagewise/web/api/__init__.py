"""The HTTP interface under ``/api/v1``: everything the pages do, for programs."""
