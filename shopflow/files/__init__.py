"""Files the shop keeps: what they are by their content, pictures made fit, and where they lie."""

from shopflow.files.contents import LARGEST_FILE, Contents, UnfitFileError, read
from shopflow.files.shared import SharedStore, store_for
from shopflow.files.store import FileStore, settle

__all__ = [
    "LARGEST_FILE",
    "Contents",
    "FileStore",
    "SharedStore",
    "UnfitFileError",
    "read",
    "settle",
    "store_for",
]
