"""Parts: catalog, stock, needs of heads, purchase orders, and work sent out.

Stock is the sum of movements that are only added to. Nothing is set aside: what lies there goes to
the needs of open jobs in the order they were added, so that one rule says whether a part is here,
ordered or needed (`needs`). A hold that waits for parts ends in the transaction that brings the
last of them.
"""
