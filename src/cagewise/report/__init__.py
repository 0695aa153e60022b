"""An examination to pages and text; all wording in one place."""
