"""Files to recordings: one folder per file format, found by walking the folders.

>>> from cagewise.readers import formats
>>> "comtrade" in [form.name for form in formats()]
True
"""

from cagewise.readers.format import Format, ReadOptions
from cagewise.readers.registry import formats, identify, read_recording, write_recording

__all__ = ["Format", "ReadOptions", "formats", "identify", "read_recording", "write_recording"]
