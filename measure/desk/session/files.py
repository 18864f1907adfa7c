"""Pictures and files for the page, by unguessable handles."""

from pathlib import Path

from measure.desk.effects import Workers
from measure.desk.photos import Picture, thumb_of


class Files:
    """What the page may fetch.

    Parameters
    ----------
    workers : Workers
        Have the files.
    """

    def __init__(self, workers: Workers) -> None:
        self._workers = workers

    def tile(self, handle: str, level: int, column: int, row: int) -> bytes | None:
        """Return a tile of a photo.

        Parameters
        ----------
        handle : str
            As in a tile's address.
        level, column, row : int
            As for `Picture.tile`.

        Returns
        -------
        bytes or None
            A JPEG; None where there is none.
        """
        picture = self._workers.photos.by_handle(handle)
        return picture.tile(level, column, row) if picture else None

    def picture(self, handle: str) -> Picture | None:
        """Return the picture of a handle.

        Parameters
        ----------
        handle : str
            As in a tile's address.

        Returns
        -------
        Picture or None
            None where there is none.
        """
        return self._workers.photos.by_handle(handle)

    def thumb(self, handle: str) -> bytes | None:
        """Return a small picture.

        Parameters
        ----------
        handle : str
            Of a photo or a sample.

        Returns
        -------
        bytes or None
            A JPEG; None where there is none.
        """
        picture = self._workers.photos.by_handle(handle)
        if picture is not None:
            return picture.thumb()
        sample = self._workers.library.sample(handle)
        return thumb_of(sample.photos[0].read_bytes()) if sample else None

    def kept_file(self, handle: str) -> Path | None:
        """Return a file of the write-up.

        Parameters
        ----------
        handle : str
            As the page names it.

        Returns
        -------
        Path or None
            None where nothing is kept under it.
        """
        return self._workers.kept.path(handle)
