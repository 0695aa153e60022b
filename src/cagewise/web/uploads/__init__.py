"""Files on their way into the plant: received on the disk, gone on with, imported."""

from cagewise.web.uploads.records import Upload
from cagewise.web.uploads.shelf import Uploads
from cagewise.web.uploads.writer import Writer

__all__ = ["Upload", "Uploads", "Writer"]
