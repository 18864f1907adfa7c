"""Opening the desk: sockets, the link, the browser, and sharing with a phone on the same network."""

import contextlib
import ipaddress
import socket
import sys
import threading
import time
import webbrowser
from collections.abc import Callable
from dataclasses import dataclass

import uvicorn

from measure.desk.server.app import make_app
from measure.desk.server.guard import Guard, new_token
from measure.desk.server.page_files import own_files
from measure.desk.session import Session
from measure.errors import MeasureError

LOOPBACK = "127.0.0.1"
# A shared desk that is unused for this long stops being shared.
SHARE_IDLE_S = 30 * 60
_LIFE_CHECK_S = 15.0
_SWITCH_S = 0.0005


@dataclass(frozen=True, slots=True)
class Links:
    """The addresses of a desk.

    Attributes
    ----------
    here : str
        For this computer.
    shared : str or None
        For another device on the network.
    """

    here: str
    shared: str | None


class Server:
    """A desk's server; its sockets are bound at once, so the link is valid before anything is served.

    Parameters
    ----------
    session : Session
        What is on the desk.
    port : int
        0 takes any free one.
    share : str or None
        Address of this computer on the network at which a phone may come in.

    Raises
    ------
    MeasureError
        The port is taken, or the address is not one of this computer's.
    """

    def __init__(self, session: Session, port: int = 0, share: str | None = None) -> None:
        address = None if share is None else checked_address(share)
        self._sockets = [_bound(LOOPBACK, port)]
        port = self._sockets[0].getsockname()[1]
        tokens = {f"{LOOPBACK}:{port}": new_token()}
        tokens[f"localhost:{port}"] = tokens[f"{LOOPBACK}:{port}"]
        self._shared_host: str | None = None
        if address is not None:
            self._sockets.append(self._bound_too(address, port))
            self._shared_host = f"[{address}]:{port}" if ":" in address else f"{address}:{port}"
            tokens[self._shared_host] = new_token()
        self.guard = Guard(make_app(session), port, tokens, style_hash=own_files().style_hash)
        shared = None
        if self._shared_host is not None:
            shared = f"http://{self._shared_host}/open?t={tokens[self._shared_host]}"
        self.links = Links(f"http://{LOOPBACK}:{port}/open?t={tokens[f'{LOOPBACK}:{port}']}", shared)
        config = uvicorn.Config(
            self.guard,
            log_level="error",
            access_log=False,
            server_header=False,
            ws_max_size=2**17,
            # Compression takes longer than sending within this computer.
            ws_per_message_deflate=False,
            timeout_graceful_shutdown=2,
        )
        # Now, not when the first request waits: the link can be used at once.
        config.load()
        self._server = uvicorn.Server(config)

    def _bound_too(self, address: str, port: int) -> socket.socket:
        try:
            return _bound(address, port)
        except MeasureError:
            self.close()
            raise

    def close(self) -> None:
        """Close the sockets."""
        for one in self._sockets:
            one.close()

    def run(self, *, told: Callable[[str], None] = lambda text: None) -> None:
        """Serve until stopped.

        Parameters
        ----------
        told : callable
            Takes a line, from another thread, when sharing ends by itself.
        """
        if self._shared_host is not None:
            threading.Thread(target=self._watch, args=(told,), daemon=True).start()
        # While a photo is searched for its card, answers must not wait long for their turn.
        sys.setswitchinterval(_SWITCH_S)
        try:
            self._server.run(sockets=self._sockets)
        finally:
            self.close()

    def stop(self) -> None:
        """Ask the server to end."""
        self._server.should_exit = True

    @property
    def started(self) -> bool:
        """Whether requests are answered."""
        return bool(self._server.started)

    def _watch(self, told: Callable[[str], None]) -> None:
        host = self._shared_host
        assert host is not None
        while not self._server.should_exit:
            time.sleep(_LIFE_CHECK_S)
            if time.monotonic() - self.guard.last_seen_s.get(host, 0.0) > SHARE_IDLE_S:
                self.guard.tokens.pop(host, None)
                told("Sharing has ended: nobody used it for half an hour. Start the desk again to share it.")
                return


def checked_address(text: str) -> str:
    """Return one address of this computer to share at.

    Raises
    ------
    MeasureError
        Not an address, or one that would stand for all networks at once.
    """
    try:
        address = ipaddress.ip_address(text.strip().strip("[]"))
    except ValueError as error:
        raise MeasureError(
            f"--share {text}: expected this computer's own address on the network, such as 192.168.1.20"
        ) from error
    if address.is_unspecified or address.is_multicast or address.is_global:
        raise MeasureError(
            f"--share {text}: give this computer's one address on your own network, such as 192.168.1.20;"
            " all networks at once, or the open internet, are not served"
        )
    return str(address)


def open_browser_when_up(server: Server) -> None:
    """Open the browser once the server answers.

    Parameters
    ----------
    server : Server
        About to be run; this returns at once.
    """

    def waiting() -> None:
        for _ in range(200):
            if server.started:
                break
            time.sleep(0.02)
        with contextlib.suppress(webbrowser.Error):
            webbrowser.open(server.links.here)

    threading.Thread(target=waiting, daemon=True).start()


def _bound(address: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    # Declared as TCP, or else asyncio leaves Nagle's algorithm on, and small answers wait up to 40 ms for an
    # acknowledgement.
    one = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    try:
        one.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        one.bind((address, port))
        one.listen(64)
    except OSError as error:
        one.close()
        raise MeasureError(
            f"{address}, port {port}: can't be served there ({error.strerror or error});"
            " take another --port, or leave it out for a free one"
        ) from error
    return one
