"""The check value at the end of a trace record."""

import binascii
from collections.abc import Iterable

START = 0xFFFF


def crc16_ccitt_false(data: bytes | Iterable[int]) -> int:
    """CRC-16 with polynomial 0x1021, start 0xFFFF, no reflection and no final change.

    Parameters
    ----------
    data : bytes or iterable of int
        Everything before the two check bytes [byte]

    Returns
    -------
    value : int
        Check value, 0 to 65535 [1]

    References
    ----------
    .. [1] ITU-T V.41 (11/1988), generator polynomial; the check value of the nine
       digits is the one that catalogues of such codes list.

    Examples
    --------
    >>> hex(crc16_ccitt_false(b"123456789"))
    '0x29b1'
    """
    return binascii.crc_hqx(data if isinstance(data, bytes) else bytes(data), START)
