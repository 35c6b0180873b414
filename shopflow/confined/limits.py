"""Limits of the work on pictures, and the faults that it tells of."""

from __future__ import annotations

SECONDS = 20
MEMORY = 512 * 1024 * 1024
"""Bytes: the largest picture takes 100 MB as it comes out of its file, and may be there thrice."""

MOST_PIXELS = 25_000_000
"""Largest picture by its own claim; a few kilobytes can claim thousands of millions."""

LONG_SIDE = 2000
SMALL_SIDE = 480
"""Pixels of the longer side of a photo as kept, and of its small form."""

LARGE, BROKEN, UNKNOWN = "large", "broken", "unknown"
"""Faults of a picture."""
