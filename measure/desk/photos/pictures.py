"""The photos on the desk: opened in the background, coarse first, then kept out of memory until touched."""

import ctypes
import hashlib
import importlib
import mmap
import os
import secrets
import tempfile
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.errors import CalibrationError
from calibration.image import (
    ExifFacts,
    Photo,
    decode_photo,
    decode_strictly,
    open_photo,
    photo_bytes,
    read_exif,
    turn_upright,
    upright_turn,
)
from measure.desk.failures import sentence
from measure.desk.photos.tiles import COARSE_LEVEL, TILE_PX, Pyramid, block_means

# Importing blocks the interpreter; after this long no page is waiting for it.
_MOST_FETCH_WAIT_S = 10.0
_MOST_TOUCHED_BYTES = 24 * 2**20


def quick_look(data: bytes, name: str = "photo") -> tuple[int, int, NDArray[np.uint8] | None]:
    """Return a photo's upright size in px and, for a JPEG, an eighth-scale preview.

    A JPEG's blocks are eight pixels wide, so their mean values give this view without decoding the rest.

    Parameters
    ----------
    data : bytes
        The photo's file, or anything else.
    name : str
        What to call it in a refusal.

    Returns
    -------
    int, int, array or None
        Width and height in px, and the preview.

    Raises
    ------
    PhotoError
        It is no photo, or damaged so far as can be seen without decoding.
    """
    with open_photo(data, name) as image:
        kind, (width_px, height_px) = image.format, image.size
        # Behind a PNG's pixels there may be a block, too; but looking there would decode them.
        facts = ExifFacts() if kind == "PNG" and "exif" not in image.info else read_exif(image)[0]
        turn = upright_turn(image, facts)
    if turn in (5, 6, 7, 8):
        width_px, height_px = height_px, width_px
    # Of a damaged one decoding in full says what is wrong.
    coarse = decode_strictly(data, shrink=8)[0] if kind in ("JPEG", "MPO") else None
    return (
        width_px,
        height_px,
        None if coarse is None else _upright_eighth(coarse, turn, (width_px, height_px)),
    )


def _upright_eighth(
    stored: NDArray[np.uint8], orientation: int, size_px: tuple[int, int]
) -> NDArray[np.uint8]:
    """Turn an eighth-scale view upright, its pixels counted from the upright photo's left and top edge.

    The blocks begin at the stored picture's edges. Where turning swaps an edge with the one across, and the
    size is no multiple of eight, the last block sticks out there: by up to seven pixels of the photo.
    """
    coarse = turn_upright(stored, orientation)
    right = -size_px[0] % 8 / 8.0 if orientation in (2, 3, 6, 7) else 0.0
    down = -size_px[1] % 8 / 8.0 if orientation in (3, 4, 7, 8) else 0.0
    if not right and not down:
        return coarse
    shift = np.array([[1.0, 0.0, right], [0.0, 1.0, down]])
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    moved = cv2.warpAffine(coarse, shift, coarse.shape[1::-1], flags=flags, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(moved, np.uint8)


def thumb_of(data: bytes) -> bytes | None:
    """Return a small picture of a photo.

    Parameters
    ----------
    data : bytes
        The photo's file, or anything else.

    Returns
    -------
    bytes or None
        A JPEG; None if none is cheaply available.
    """
    try:
        coarse = quick_look(data)[2]
    except CalibrationError:
        return None
    return None if coarse is None else Pyramid(None, coarse).thumb()


def out_of_memory(photo: Photo) -> tuple[Photo, mmap.mmap | None]:
    """Move a photo's pixels to a nameless temporary file mapped into memory.

    The pixels stay the same array to whoever reads them, but only the pages touched take memory: a photo of
    48 megapixels would hold 144 MB otherwise. Where there is no room for the file, the photo stays as it is.
    """
    try:
        with tempfile.TemporaryFile(prefix="cardspan-") as file:
            photo.pixels_bgr.tofile(file)
            file.flush()
            mapping = mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ)
    except OSError:
        return photo, None
    pixels = np.frombuffer(mapping, np.uint8).reshape(photo.pixels_bgr.shape)
    return replace(photo, pixels_bgr=pixels), mapping


class Picture:
    """One photo on the desk, from the first look to the full pixels.

    Attributes
    ----------
    handle : str
        Unguessable name in tile addresses; a new one whenever the tiles change; former ones stay valid.
    stage : str
        "opening", "preview", "ready" or "failed".
    trouble : str or None
        Why it failed, in words.
    whole : bytes or None
        A coarse view of all of it as one JPEG, there as soon as `seen` is set and the photo can be shown.
    seen, shown : Event
        Set when there is something to show, and when a page's scripts have asked for a piece of it. Decoding
        waits for the latter, since a page just opened needs the processor first.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.handle = secrets.token_urlsafe(8)
        self._former: list[str] = []
        self.stage = "opening"
        self.trouble: str | None = None
        self.sha256 = ""
        self.width_px = 0
        self.height_px = 0
        self.photo: Photo | None = None
        self.pyramid: Pyramid | None = None
        self.whole: bytes | None = None
        self.seen = threading.Event()
        self.shown = threading.Event()
        self._mapping: mmap.mmap | None = None
        self._touched_bytes = 0

    def preview(self, data: bytes) -> None:
        """Show a coarse view at once where the format allows it.

        Parameters
        ----------
        data : bytes
            The file; one that is no photo leaves the stage "failed" and the reason.
        """
        try:
            self.width_px, self.height_px, coarse = quick_look(data, str(self.path))
        except CalibrationError as error:
            self.fail(str(error))
            return
        if coarse is not None:
            self.pyramid = Pyramid(None, coarse)
            self.whole = self.pyramid.whole()
            self.stage = "preview"
            self.seen.set()

    def decode(self, data: bytes) -> None:
        """Decode the photo itself.

        Parameters
        ----------
        data : bytes
            The file; one that is no photo leaves the stage "failed" and the reason.
        """
        try:
            photo = decode_photo(data, str(self.path))
        except CalibrationError as error:
            self.fail(str(error))
            return
        coarse = block_means(photo.pixels_bgr, COARSE_LEVEL)
        self.photo, self._mapping = out_of_memory(photo)
        self.width_px, self.height_px = photo.width_px, photo.height_px
        self.pyramid = Pyramid(self.photo.pixels_bgr, coarse)
        # A page may be requesting the coarse view by its name at this moment.
        self._former.append(self.handle)
        self.handle = secrets.token_urlsafe(8)
        self.whole = self.whole or self.pyramid.whole()
        self.stage = "ready"
        self.seen.set()

    def goes_by(self, handle: str) -> bool:
        """Tell whether this is, or was, the picture's name.

        Parameters
        ----------
        handle : str
            As in a tile's address.

        Returns
        -------
        bool
        """
        return handle == self.handle or handle in self._former

    def fail(self, why: str) -> None:
        """Note that this photo can't be shown.

        Parameters
        ----------
        why : str
            A sentence for the page.
        """
        self.stage, self.trouble, self.pyramid, self.whole = "failed", why, None, None
        self.seen.set()

    def tile(self, level: int, column: int, row: int) -> bytes | None:
        """Return a tile of the picture; from time to time memory is released.

        Parameters
        ----------
        level : int
            How often the picture is halved: 0 for full size.
        column, row : int
            Its place among the tiles of `TILE_PX` of that level, from 0 at the top left.

        Returns
        -------
        bytes or None
            A JPEG; None where there is no such tile, or none yet.
        """
        pyramid = self.pyramid
        if pyramid is None:
            return None
        data = pyramid.tile(level, column, row)
        self.shown.set()
        self._touched_bytes += 3 * (TILE_PX << min(level, COARSE_LEVEL)) ** 2 if level < COARSE_LEVEL else 0
        if self._touched_bytes > _MOST_TOUCHED_BYTES:
            self.rest()
        return data

    def thumb(self) -> bytes | None:
        """Return a small picture as JPEG, or None while there is nothing to show."""
        return self.pyramid.thumb() if self.pyramid else None

    def rest(self) -> None:
        """Release the memory of pages that were read; they are read from the file again when touched."""
        self._touched_bytes = 0
        if self._mapping is not None and hasattr(mmap, "MADV_DONTNEED"):
            self._mapping.madvise(mmap.MADV_DONTNEED)


def give_back() -> None:
    """Return freed memory to the system, if the C library keeps it (glibc does)."""
    trim = getattr(ctypes.CDLL(None), "malloc_trim", None) if os.name == "posix" else None
    if trim is not None:
        trim(0)


def _fetch_code(picture: Picture) -> None:
    """Import what finding a card, measuring and judging need, once a page has had its first view."""
    picture.shown.wait(_MOST_FETCH_WAIT_S)
    for name in ("scipy.special", "measure.kinds.measuring", "references.verdict.verdict"):
        importlib.import_module(name)


class Darkroom:
    """Opens photos one after the other in the background and tells when anything changed.

    Parameters
    ----------
    changed : callable
        Called from the worker thread with the picture that changed.
    failed : callable
        Takes what was being done and what it raised, where that is a fault of the program.

    Attributes
    ----------
    first_view_s : float
        How long a photo waits for its preview to be shown before decoding blocks everything else.
    """

    def __init__(
        self, changed: Callable[[Picture], None], failed: Callable[[str, Exception], object]
    ) -> None:
        self.first_view_s = 0.0
        self._changed = changed
        self._failed = failed
        self._openings = ThreadPoolExecutor(1, "open")
        self._work = ThreadPoolExecutor(1, "develop")
        self._by_path: dict[Path, Picture] = {}
        self._fetched = self._closed = False

    def picture(self, path: Path) -> Picture:
        """Return the picture of a file, starting to open it when it is new.

        Parameters
        ----------
        path : Path
            The file.

        Returns
        -------
        Picture
        """
        known = self._by_path.get(path)
        if known is None:
            known = self._by_path[path] = Picture(path)
            self._openings.submit(self._told, "Opening it", lambda: self._open(known), known)
        return known

    def by_handle(self, handle: str) -> Picture | None:
        """Return the picture that goes, or went, by a handle.

        Parameters
        ----------
        handle : str
            As in a tile's address.

        Returns
        -------
        Picture or None
            None where there is none.
        """
        return next((one for one in list(self._by_path.values()) if one.goes_by(handle)), None)

    def failed(self) -> list[Picture]:
        """Return the pictures that can't be shown."""
        return [one for one in list(self._by_path.values()) if one.stage == "failed"]

    def later(self, task: Callable[[], None]) -> None:
        """Run something after the photos asked for so far.

        Parameters
        ----------
        task : callable
            Called from a thread of its own.
        """
        self._work.submit(self._told, "Looking at a photo", task)

    def _told(self, doing: str, task: Callable[[], None], picture: Picture | None = None) -> None:
        """Do something; what it raises would be lost in the worker."""
        try:
            task()
        except Exception as error:
            if self._closed:
                return  # the last photo's next step has nowhere to go
            if picture is not None:
                doing = f"{picture.path.name}: {doing}"
                if picture.stage != "ready":
                    picture.fail(sentence(doing, error))
            self._failed(doing, error)

    def close(self) -> None:
        """Stop taking work."""
        self._closed = True
        self._openings.shutdown(wait=False, cancel_futures=True)
        self._work.shutdown(wait=False, cancel_futures=True)

    def _open(self, picture: Picture) -> None:
        try:
            data = photo_bytes(picture.path, picture.path.name)
        except CalibrationError as error:
            picture.fail(str(error))
            self._changed(picture)
            return
        picture.preview(data)
        picture.sha256 = hashlib.sha256(data).hexdigest()
        self._changed(picture)
        if picture.stage != "failed":
            self._work.submit(self._told, "Opening it", lambda: self._develop(picture, data), picture)

    def _develop(self, picture: Picture, data: bytes) -> None:
        if picture.stage == "preview":
            picture.shown.wait(self.first_view_s)
        if not self._fetched:
            self._fetched = True
            threading.Thread(target=_fetch_code, args=(picture,), name="fetch", daemon=True).start()
        picture.decode(data)
        self._changed(picture)
