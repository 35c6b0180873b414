"""A page and a program by which a stranger verifies signed documents of the shop, off line.

Both hold the shop's public keys and nothing else of the shop's, and know no other code of ours.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from importlib.resources import files

from shopflow.signing.keys import PublicKey
from shopflow.texts import gettext


def program(shop: str, keys: Sequence[PublicKey]) -> str:
    """A program for Python that verifies signed documents."""
    held = ",\n".join(f"    {_named(key)!r}" for key in keys)
    # The name stands in a comment of the program.
    name = " ".join(shop.replace("\\", "").replace('"', "'").split())
    template = _template("verify_document.py.txt")
    return template.replace("§shop§", name).replace("§keys§", f"[\n{held},\n]")


def page(shop: str, keys: Sequence[PublicKey]) -> str:
    """A page for a browser that verifies signed documents."""
    held = {"shop": shop, "keys": [_named(key) for key in keys], "texts": _texts(shop)}
    # Within a script element no "<" may begin a tag.
    data = json.dumps(held, ensure_ascii=True).replace("<", "\\u003c")
    return _template("verify_document.html.txt").replace("§data§", data)


def _named(key: PublicKey) -> dict[str, str]:
    return {"shop": key.shop, "fingerprint": key.printed, "x": key.x, "y": key.y}


def _template(name: str) -> str:
    return files(__package__).joinpath(name).read_text(encoding="utf-8")


def _texts(shop: str) -> dict[str, str]:
    return {
        "heading": gettext("Verify a document of {shop}", shop=shop),
        "about": gettext(
            "Choose the PDF. It is read here and sent nowhere: this page works without a network."
        ),
        "key": gettext(
            "Compare this key with the one that the shop prints on its documents and shows on its "
            "site:"
        ),
        "file": gettext("PDF"),
        "number": gettext("Number printed on the document (optional)"),
        "good": gettext("Signed by {shop}, whole and unchanged since {day}", shop="§s", day="§d"),
        "bad": gettext("Not as the shop signed it"),
        "other": gettext("Another document than {number}", number="§n"),
        "it_is": gettext("It is: {title}", title="§t"),
        "says": gettext("It says it is: {title}. That is not proven.", title="§t"),
        "nothing": gettext("nothing"),
        "unsigned": gettext(
            "It is not signed: not a file that the shop issued, or saved again or printed since."
        ),
        "added": gettext("Something was added to it after it was signed, or cut off."),
        "unreadable": gettext("Its signature cannot be read."),
        "kind": gettext("Its signature is of a kind that this shop does not use."),
        "forged": gettext(
            "It is signed by another key, or its signature was changed: not by this shop."
        ),
        "changed": gettext("It was changed after the shop signed it."),
    }
