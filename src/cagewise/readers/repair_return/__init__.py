"""The return sheet of a repair shop as a file: TOML, CSV or a workbook.

Not a format of recordings: the walk over the folders passes it over.
"""

from cagewise.readers.repair_return.return_reader import ENDINGS, read_repair_return
from cagewise.readers.repair_return.return_writer import AskedRow, EmptyReturn, write_return_form

__all__ = [
    "ENDINGS",
    "AskedRow",
    "EmptyReturn",
    "read_repair_return",
    "write_return_form",
]
