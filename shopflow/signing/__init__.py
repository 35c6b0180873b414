"""The shop's own signature on its documents: ECDSA over P-256, by a self-signed certificate.

The private key lies in the shop's folder and nowhere else. Signing needs the extra `sign`; a shop
without a key issues documents unsigned. A stranger verifies them with `verifier`, without us.
"""

from shopflow.signing.keys import (
    EARLIER_FILE,
    KEY_FILE,
    has_key,
    make_key,
    public_keys,
    replace_key,
)
from shopflow.signing.signature import FIELD, Checked, Signer, check, sign, signer

__all__ = [
    "EARLIER_FILE",
    "FIELD",
    "KEY_FILE",
    "Checked",
    "Signer",
    "check",
    "has_key",
    "make_key",
    "public_keys",
    "replace_key",
    "sign",
    "signer",
]
