"""A small HTTP server on the loopback that can send ranges of a file, and counts what it sends."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from threading import Thread
from typing import Any


class _Counting(ThreadingHTTPServer):
    folder: Path
    ranges: bool
    sent: int = 0
    requests: int = 0


class _Handler(BaseHTTPRequestHandler):
    server: _Counting

    def do_HEAD(self) -> None:
        self._answer(body=False)

    def do_GET(self) -> None:
        self._answer(body=True)

    def _answer(self, body: bool) -> None:
        self.server.requests += 1
        file = self.server.folder / self.path.lstrip("/").partition("?")[0]
        if not file.is_file():
            self.send_error(404)
            return
        content = file.read_bytes()
        asked = re.fullmatch(r"bytes=(\d+)-(\d*)", self.headers.get("Range", ""))
        if asked and self.server.ranges:
            first, last = int(asked[1]), min(int(asked[2] or 1 << 60), len(content) - 1)
            self.send_response(206)
            self.send_header("Content-Range", f"bytes {first}-{last}/{len(content)}")
            content = content[first : last + 1]
        else:
            self.send_response(200)
        self.send_header("Accept-Ranges", "bytes" if self.server.ranges else "none")
        self.send_header("Content-Length", str(len(content)))
        self.end_headers()
        if body:
            self.server.sent += len(content)
            self.wfile.write(content)

    def log_message(self, *_: Any) -> None:
        """Say nothing on the terminal."""


@contextmanager
def served(folder: Path, ranges: bool = True) -> Iterator[tuple[str, _Counting]]:
    """Serve a folder: ``with served(folder) as (address, server)``; `server.sent` counts bytes."""
    server = _Counting(("127.0.0.1", 0), _Handler)
    server.folder, server.ranges = folder, ranges
    thread = Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_address[1]}", server
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
