"""Files the shop keeps: what they are by their content, pictures made fit, and where they lie."""

from shopflow.files.contents import LARGEST_FILE, Contents, UnfitFileError, read
from shopflow.files.store import FileStore, settle

__all__ = ["LARGEST_FILE", "Contents", "FileStore", "UnfitFileError", "read", "settle"]
