"""Parts: catalog, suppliers, purchase orders, parts of a head, and work sent out.

Where the shop does not use them, none of their pages is there.
"""

from shopflow.services.parts.catalog import must_be_used as refuse_unused
from shopflow.web.context import current_shop


def must_be_used() -> None:
    """Refuse a page of parts where the shop does not use them."""
    refuse_unused(current_shop())
