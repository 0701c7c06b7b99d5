"""Canonical JSON, hash chains, signatures, seals, and what verifies them."""

from eavelight.seal.bodies import body_of, references
from eavelight.seal.canonical import canonical, digest, parsed
from eavelight.seal.chain import Head, genuine, heads_of, link, make_seal
from eavelight.seal.salted import commit, fits
from eavelight.seal.sign import DeviceKey, KeyFileError, load_or_make_key, signed_by
from eavelight.seal.verify import Material, Problem, Report, short, verify

__all__ = [
    "DeviceKey",
    "Head",
    "KeyFileError",
    "Material",
    "Problem",
    "Report",
    "body_of",
    "canonical",
    "commit",
    "digest",
    "fits",
    "genuine",
    "heads_of",
    "link",
    "load_or_make_key",
    "make_seal",
    "parsed",
    "references",
    "short",
    "signed_by",
    "verify",
]
