"""QR codes: text to a square of dark and light modules, and the text that names a pin map."""

from __future__ import annotations

from pegwright.placement import PinMap, pin_map_sha256

MAP_SCHEME = "PEGWRIGHT:MAP:"


def qr_matrix(text: str) -> tuple[tuple[bool, ...], ...]:
    """The QR code of a text, without its quiet zone: square rows of dark (True) and light modules.

    The smallest size that corrects 15 % of damage (level M), and the highest level that this size holds.

    Args:
        text: capitals, figures and `$%*+-./:` make the smallest code.
    """
    from qrcodegen import QrCode  # noqa: PLC0415  # loaded when first needed

    code = QrCode.encode_text(text, QrCode.Ecc.MEDIUM)
    modules = range(code.get_size())
    return tuple(tuple(code.get_module(x, y) for x in modules) for y in modules)


def map_qr(pins: PinMap) -> tuple[tuple[bool, ...], ...]:
    """The QR code that names a pin map: `PEGWRIGHT:MAP:` and the 64 figures of its hash, in capitals."""
    return qr_matrix(MAP_SCHEME + pin_map_sha256(pins).upper())
