"""What follows from several examinations of a motor or a plant; no files, no database.

Trend, change, time to a limit, before and after a repair, ranking, calls against what was found,
differences between examinations (docs/theory/trend.md).
"""
