"""Numbered changes of the schema; run by :mod:`cagewise.store.schema`, never by hand."""
