"""The page's own files, read once and answered from memory: a page requests more than twenty at once."""

import hashlib
import mimetypes
import re
from base64 import b64encode
from collections.abc import Iterator
from functools import lru_cache
from importlib.resources import files
from importlib.resources.abc import Traversable

from starlette.requests import Request
from starlette.responses import Response

# On Windows a registry entry can give .js a type that browsers refuse for modules.
mimetypes.add_type("text/javascript", ".js")
_STYLE = re.compile(r'<link rel="stylesheet" href="/static/([\w./]+)">\n')


class PageFiles:
    """Answers requests for the files of one folder.

    Parameters
    ----------
    folder : Traversable
        The files, with an `index.html`, and folders one deep.

    Attributes
    ----------
    page : bytes
        The page with its styles inline: nothing is painted before they are loaded.
    style_hash : str
        With it, the page's policy admits those styles.
    """

    def __init__(self, folder: Traversable) -> None:
        self._answers = dict(_answers(folder))
        page = folder.joinpath("index.html").read_text("utf-8")
        style = "\n".join(
            folder.joinpath(*name.split("/")).read_text("utf-8") for name in _STYLE.findall(page)
        )
        bare = _STYLE.sub("", page)
        self.page = bare.replace("</title>\n", f"</title>\n<style>{style}</style>\n", 1).encode()
        self.style_hash = f"sha256-{b64encode(hashlib.sha256(style.encode()).digest()).decode()}"

    async def answer(self, request: Request) -> Response:
        """Answer a request for the file of its path's `name`; a browser that already has it gets 304."""
        known = self._answers.get(request.path_params["name"])
        if known is None:
            return Response("no such file", 404)
        if request.headers.get("if-none-match") == known.headers["etag"]:
            return Response(status_code=304, headers={"etag": known.headers["etag"]})
        return known


@lru_cache(maxsize=1)
def own_files() -> PageFiles:
    """Return the desk's own files."""
    return PageFiles(files("measure.desk").joinpath("static"))


def _answers(folder: Traversable) -> Iterator[tuple[str, Response]]:
    inner = [(f"{room.name}/", room) for room in folder.iterdir() if room.is_dir()]
    for place, room in [("", folder), *inner]:
        for one in (one for one in room.iterdir() if one.is_file()):
            data = one.read_bytes()
            kind = mimetypes.guess_type(one.name)[0] or "application/octet-stream"
            headers = {"etag": f'"{hashlib.sha256(data).hexdigest()[:24]}"', "cache-control": "no-cache"}
            yield place + one.name, Response(data, media_type=kind, headers=headers)
