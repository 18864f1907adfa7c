"""A link as a QR code for the terminal."""

import cv2
import numpy as np
from numpy.typing import NDArray

_QUIET_MODULES = 4  # ISO/IEC 18004 asks for a margin of four modules


def qr_modules(text: str) -> NDArray[np.bool_]:
    """Return the code's modules, True where dark, with the quiet margin around them.

    Parameters
    ----------
    text : str
        What the code says.

    Returns
    -------
    (N, N) array of bool
    """
    pixels = np.asarray(cv2.QRCodeEncoder.create().encode(text))
    dark = pixels < 128
    rows, columns = np.flatnonzero(dark.any(axis=1)), np.flatnonzero(dark.any(axis=0))
    core = dark[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    return np.pad(core, _QUIET_MODULES, constant_values=False)


def qr_text(text: str, *, colour: bool) -> str:
    """Draw the code with half-height blocks, two modules to a character.

    Parameters
    ----------
    text : str
        What the code says.
    colour : bool
        Ask the terminal for black on white; without it the light modules are drawn as blocks, which is right
        on a dark terminal.

    Returns
    -------
    str
        Lines for a terminal, without a line break at the end.
    """
    light = ~qr_modules(text)
    if len(light) % 2:
        light = np.vstack([light, np.ones((1, light.shape[1]), bool)])
    lines = []
    for upper, lower in zip(light[0::2], light[1::2], strict=True):
        line = "".join(" ▄▀█"[2 * up + down] for up, down in zip(upper.tolist(), lower.tolist(), strict=True))
        lines.append(f"\x1b[97;40m{line}\x1b[0m" if colour else line)
    return "\n".join(lines)
