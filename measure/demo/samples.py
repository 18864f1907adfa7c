"""The sample photos and their register."""

from importlib.resources import files
from pathlib import Path
from typing import Any

from measure.errors import MeasureError
from measure.json_files import JsonError, read_json

REGISTER = "register.json"


def samples_folder() -> Path:
    """Return where the samples are: in the installed package, or at the top of a checkout.

    Returns
    -------
    Path
        A folder with a register.

    Raises
    ------
    MeasureError
        Neither holds a register.
    """
    package = Path(str(files("measure")))
    for folder in (package / "samples", package.parent / "sample_images"):
        if (folder / REGISTER).is_file():
            return folder
    raise MeasureError("the sample photos are not installed; run this from a checkout of the project")


def read_register(folder: Path) -> dict[str, Any]:
    """Read the register of the samples.

    Parameters
    ----------
    folder : Path
        As `samples_folder` gives it.

    Returns
    -------
    dict
        Keys such as "photos" and "specimens", with files relative to the folder.

    Raises
    ------
    MeasureError
        Missing or not JSON.
    """
    path = folder / REGISTER
    try:
        register = read_json(path)
    except JsonError as error:
        raise MeasureError(f"{error}; install the project again") from error
    if not isinstance(register, dict) or register.get("format") != "cardspan-samples/1":
        raise MeasureError(f'{path}: format: expected "cardspan-samples/1"; install the project again')
    return register
