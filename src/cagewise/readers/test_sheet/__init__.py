"""Test sheets: typed, versioned forms that people fill in, as TOML, CSV or a workbook.

Not a format of recordings: the walk over the folders passes it over.
"""

from cagewise.readers.test_sheet.build import SheetReading, TableRead
from cagewise.readers.test_sheet.form import Form
from cagewise.readers.test_sheet.sheet_reader import (
    SHEET_ENDINGS,
    is_test_sheet,
    read_test_sheet,
    understand,
    waveforms_beside,
)
from cagewise.readers.test_sheet.sheet_writer import write_form, write_test_sheet
from cagewise.readers.test_sheet.table_values import HeadingRead
from cagewise.readers.test_sheet.template import template_for

__all__ = [
    "SHEET_ENDINGS",
    "Form",
    "HeadingRead",
    "SheetReading",
    "TableRead",
    "is_test_sheet",
    "read_test_sheet",
    "template_for",
    "understand",
    "waveforms_beside",
    "write_form",
    "write_test_sheet",
]
