"""A whole plant to one file and back."""

from cagewise.store.archive.read import Restored, restore
from cagewise.store.archive.verify import Verified, verify
from cagewise.store.archive.write import Exported, export

__all__ = ["Exported", "Restored", "Verified", "export", "restore", "verify"]
