"""Merkle tree hash of an append-only log, RFC 9162 (Certificate Transparency 2.0), section 2.1."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field

from shopflow.texts import gettext

NODE_BYTES = 32
_LEAF, _NODE = b"\x00", b"\x01"
"""Prefixes that keep an entry from passing for a node (RFC 9162, 2.1.1)."""


def leaf_hash(entry: bytes) -> bytes:
    """SHA-256 of one entry as a leaf."""
    return hashlib.sha256(_LEAF + entry).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """SHA-256 of the node above two others."""
    return hashlib.sha256(_NODE + left + right).digest()


@dataclass
class Tree:
    """A tree that entries are appended to; it holds the roots of its complete subtrees alone.

    The stack is that of RFC 9162, 2.1.2: as many nodes as the size has binary ones.
    """

    size: int = 0
    stack: list[bytes] = field(default_factory=list)

    def append(self, entry: bytes) -> None:
        """Append one entry: each trailing one of the size so far joins two subtrees."""
        node = leaf_hash(entry)
        complete = self.size
        while complete & 1:
            node = node_hash(self.stack.pop(), node)
            complete >>= 1
        self.stack.append(node)
        self.size += 1

    def root(self) -> bytes:
        """The tree head's hash; SHA-256 of nothing for an empty tree."""
        if not self.stack:
            return hashlib.sha256(b"").digest()
        *others, root = self.stack
        for node in reversed(others):
            root = node_hash(node, root)
        return root

    def packed(self) -> bytes:
        """The stack as bytes, to be stored with the size."""
        return b"".join(self.stack)

    @classmethod
    def unpacked(cls, size: int, stack: bytes) -> Tree:
        """The tree stored so. Raises ValueError where a stack does not belong to a size."""
        nodes = [stack[i : i + NODE_BYTES] for i in range(0, len(stack), NODE_BYTES)]
        if size < 0 or len(stack) != NODE_BYTES * size.bit_count():
            raise ValueError(
                gettext(
                    "{count} bytes are no stack of a tree of {size} entries",
                    count=len(stack),
                    size=size,
                )
            )
        return cls(size, nodes)
