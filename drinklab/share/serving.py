"""Finished pages of a folder, handed to phones in one's own network: plain files, read only, no kernel behind them.

What is handed on is settled when it begins: those pages and their list, by their very paths. Nothing else can be asked
for, so that no way of writing a path leads anywhere else.
"""

from __future__ import annotations

import contextlib
import html
import ipaddress
import re
import socket
import threading
from collections import Counter
from collections.abc import Callable, Sequence
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import unquote, urlsplit

from ..errors import InputError, Told
from .pages import Page, read_page
from .site import index_html

PORT = 8791
# Connections at once, of them from one address, and how long each may take, slow phones and all [s].
MOST_AT_ONCE, MOST_OF_ONE, LONGEST = 24, 8, 60.0
LOOPBACK = "127.0.0.1"
_POLICY = re.compile(r'<meta http-equiv="Content-Security-Policy" content="([^"]*)">')
_PLAIN_POLICY = "default-src 'none'"
# What pages of ours ask for: nothing from anywhere. A page that asks for more gets less.
_OURS = re.compile(
    r"default-src 'none'(?:; (?:style|script)-src(?: '(?:none|unsafe-inline|unsafe-eval|sha256-[A-Za-z0-9+/=]{44})')+"
    r"|; img-src data:)*"
)
_EVERYWHERE = "frame-ancestors 'none'; base-uri 'none'; form-action 'none'"
_HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cache-Control": "no-cache",
    "Connection": "close",
}


Network = ipaddress.IPv4Network | ipaddress.IPv6Network


class Sharing(ThreadingHTTPServer):
    """A server of finished pages.

    Parameters
    ----------
    folder : path
    pages : sequence of Page
        What is handed on, as `pages.finished` finds it; each is read anew when it is asked for.
    address : str
        Of this computer. Loopback, unless the person named a network.
    port : int
        0 for any that is free.
    network : IPv4Network or IPv6Network, optional
        Who is answered; everybody who reaches the address without it.
    """

    daemon_threads = True
    block_on_close = False
    request_queue_size = 64
    allow_reuse_address = True

    def __init__(
        self,
        folder: str | Path,
        pages: Sequence[Page],
        address: str = LOOPBACK,
        port: int = PORT,
        network: Network | None = None,
    ) -> None:
        self.folder, self.network = Path(folder).resolve(), network
        self.listed = {page.path: page.kind for page in pages}
        self.index = index_html(pages)
        self._free, self._count = threading.Semaphore(MOST_AT_ONCE), threading.Lock()
        self._clients: Counter[str] = Counter()
        self.address_family = socket.AF_INET6 if ":" in address else socket.AF_INET
        super().__init__((address, port), _Handler)
        host = f"[{address}]" if ":" in address else address
        self.url = f"http://{host}:{self.server_address[1]}/"
        names = {address, "localhost", socket.gethostname(), f"{socket.gethostname()}.local"}
        self.names = {name.lower() for name in names}

    def server_bind(self) -> None:
        """As the library's, but for the look-up of a name, which may wait on the network."""
        self.socket.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        self.socket.bind(self.server_address)
        self.server_address = self.socket.getsockname()
        self.server_name, self.server_port = str(self.server_address[0]), self.server_address[1]

    def verify_request(self, request: Any, client_address: Any) -> bool:
        """Only who is in the named network, and not too often at once."""
        who = ipaddress.ip_address(client_address[0].partition("%")[0])
        if self.network is not None and who not in self.network:
            return False
        with self._count:
            if self._clients[client_address[0]] >= MOST_OF_ONE:
                return False
            self._clients[client_address[0]] += 1
        if self._free.acquire(timeout=LONGEST):
            return True
        self._gone(client_address, held=False)
        return False

    def process_request_thread(self, request: Any, client_address: Any) -> None:
        """Answer, for so long and no longer."""
        ends = threading.Timer(LONGEST, _cut, [request])
        ends.daemon = True
        ends.start()
        try:
            super().process_request_thread(request, client_address)
        finally:
            ends.cancel()
            self._gone(client_address)

    def _gone(self, client_address: Any, held: bool = True) -> None:
        if held:
            self._free.release()
        with self._count:
            self._clients[client_address[0]] -= 1
            if self._clients[client_address[0]] <= 0:
                del self._clients[client_address[0]]

    def handle_error(self, request: Any, client_address: Any) -> None:
        """A phone that went away is no error."""

    def page(self, path: str) -> str | None:
        """The text at a path, one of the list or of what is listed; None for everything else."""
        if path in ("", "index.html"):
            return self.index
        found = read_page(self.folder, path) if path in self.listed else None
        return found.text if found and found.kind == self.listed[path] else None


def _cut(request: socket.socket) -> None:
    with contextlib.suppress(OSError):
        request.shutdown(socket.SHUT_RDWR)


class _Handler(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    timeout = 10.0  # without a word [s]
    server: Sharing

    def version_string(self) -> str:
        return "Drinklab"

    def log_message(self, format: str, *args: Any) -> None:
        """Nothing is kept of who read what."""

    def do_GET(self) -> None:
        self._answer()

    def do_HEAD(self) -> None:
        self._answer()

    def __getattr__(self, name: str) -> Callable[[], None]:
        # The library looks for `do_` and the method: there is none but the two above.
        if name.startswith("do_"):
            return lambda: self.send_error(HTTPStatus.METHOD_NOT_ALLOWED)
        raise AttributeError(name)

    def _answer(self) -> None:
        if not self._meant_for_us():
            self.send_error(HTTPStatus.MISDIRECTED_REQUEST)
            return
        text = self.server.page(asked) if (asked := _path(self.path)) is not None else None
        if text is None:
            self.send_error(HTTPStatus.NOT_FOUND)
            return
        policy = _POLICY.search(text[:4096])
        told = " ".join(html.unescape(policy[1]).split()) if policy else ""
        self._send(HTTPStatus.OK, text, told if _OURS.fullmatch(told) else _PLAIN_POLICY)

    def _meant_for_us(self) -> bool:
        """A page elsewhere that got its name to point here is no guest of ours."""
        told = self.headers.get("Host", "")
        with contextlib.suppress(ValueError):
            host = urlsplit("//" if "@" in told else f"//{told}")
            return (host.hostname or "") in self.server.names and host.port in (None, self.server.server_address[1])
        return False

    def send_error(self, code: int, message: str | None = None, explain: str | None = None) -> None:
        """One plain line: what was asked is not repeated."""
        status = HTTPStatus(code)
        self._send(status, f"{status.phrase}\n", _PLAIN_POLICY, "text/plain")

    def _send(self, status: HTTPStatus, text: str, policy: str, kind: str = "text/html") -> None:
        body = text.encode()
        self.send_response(status)
        self.send_header("Content-Type", f"{kind}; charset=utf-8")
        self.send_header("Content-Length", str(len(body)))
        self.send_header("Content-Security-Policy", f"{policy}; {_EVERYWHERE}")
        if status == HTTPStatus.METHOD_NOT_ALLOWED:
            self.send_header("Allow", "GET, HEAD")
        for name, value in _HEADERS.items():
            self.send_header(name, value)
        self.end_headers()
        self.close_connection = True
        if getattr(self, "command", None) != "HEAD":
            self.wfile.write(body)


def _path(asked: str) -> str | None:
    """The path of a request, its signs read once; None for what is none.

    >>> _path("/writeups/a%20b.html?x"), _path("http://elsewhere/"), _path("/%ff"), _path("/")
    ('writeups/a b.html', None, None, '')
    """
    path = asked.partition("?")[0].partition("#")[0]
    if not path.startswith("/"):
        return None
    try:
        return unquote(path[1:], errors="strict")
    except UnicodeDecodeError:
        return None


# --- which network --------------------------------------------------------------------------------------------


def own_addresses() -> list[str]:
    """Addresses of this computer in private networks; nothing is sent to find them."""
    found = []
    for far in ("10.255.255.255", "172.31.255.255", "192.168.255.255"):
        with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as trial:
            trial.connect((far, 9))  # of this kind of socket: chooses a way out, sends nothing
            found.append(trial.getsockname()[0])
    with contextlib.suppress(OSError):
        found += [str(entry[4][0]) for entry in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)]
    kept = [address for address in dict.fromkeys(found) if ipaddress.ip_address(address).is_private]
    return [address for address in kept if not ipaddress.ip_address(address).is_loopback]


class Reached(NamedTuple):
    """The address to listen on, and who is answered: everybody for None."""

    address: str
    network: Network | None


def named_network(given: str) -> Reached:
    """The address to listen on, and who is answered, for what a person named.

    Parameters
    ----------
    given : str
        A network (192.168.1.0/24), or an address of this computer.

    Returns
    -------
    (str, IPv4Network or IPv6Network or None)

    Raises
    ------
    InputError
        For a public address, one that is every address at once, or a network that this computer is not in.

    Examples
    --------
    >>> named_network("127.0.0.0/8")
    Reached(address='127.0.0.1', network=IPv4Network('127.0.0.0/8'))
    """
    own = own_addresses()
    here = f" (this computer has {', '.join(own)})" if own else ""
    allowed = f"your own network, such as 192.168.1.0/24, or this computer's address in it{here}"
    try:
        network = ipaddress.ip_network(given.strip(), strict=False)
    except ValueError:
        raise InputError("--network", given, allowed) from None
    single = network.num_addresses == 1
    if not network.is_private or network.network_address.is_unspecified or network.network_address.is_multicast:
        raise InputError("--network", given, f"a private one: {allowed}")
    if single:
        return Reached(str(network.network_address), None)
    mine = [address for address in (*own, LOOPBACK) if ipaddress.ip_address(address) in network]
    if not mine:
        raise InputError("--network", given, f"one that this computer is in: {allowed}")
    return Reached(mine[0], network)


def sharing(folder: str | Path, pages: Sequence[Page], network: str | None = None, port: int | None = None) -> Sharing:
    """A server that listens, on loopback until a network is named; `serve_forever` answers.

    Raises
    ------
    InputError
        For a network as `named_network` says, or a port that is taken.
    """
    address, answered = named_network(network) if network else (LOOPBACK, ipaddress.ip_network("127.0.0.0/8"))
    for tried in [port] if port is not None else range(PORT, PORT + 50):
        try:
            return Sharing(folder, pages, address, tried, answered)
        except OSError as error:
            why = error.strerror or str(error)
    if port is not None:
        raise InputError("--port", port, f"one that is free at {address} ({why})")
    raise InputError("--network", Told(address), f"an address of this computer, with a free port ({why})")
