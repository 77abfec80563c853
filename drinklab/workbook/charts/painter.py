"""Still pictures drawn in a process of its own: the drawing engine ends its process on what it cannot take.

This file is also what that process runs, without the rest of the package: lines of JSON in, lines of JSON out.
"""

from __future__ import annotations

import atexit
import contextlib
import importlib.util
import json
import os
import subprocess
import sys
import threading
from pathlib import Path

# The largest of our charts takes 0.2 s. [s]
PATIENCE = 60.0


class StoppedError(Exception):
    """The engine ended, or did not come to an end, on what it was given."""


class Painter:
    """The drawing engine in a process of its own, started at the first picture and kept for the next."""

    def __init__(self) -> None:
        self._process: subprocess.Popen | None = None
        self._lock = threading.Lock()
        atexit.register(self.stop)

    def draw(self, spec: str) -> str:
        """An SVG picture of a Vega-Lite specification, itself JSON text.

        Parameters
        ----------
        spec : str

        Returns
        -------
        str
            SVG.

        Raises
        ------
        StoppedError
            If the engine stopped; the next picture finds a new one.
        ValueError
            With the engine's words, if the specification cannot be drawn.
        """
        with self._lock:
            try:
                answer = self._ask({"spec": spec})
            except BaseException:  # an interrupt too: the late answer would be taken for that of the next picture
                self.stop()
                raise
        if "problem" in answer:
            raise ValueError(answer["problem"])
        return answer["picture"]

    def _ask(self, order: dict) -> dict:
        if self._process is None or self._process.poll() is not None:
            self.stop()
            self._process = _started()
        process = self._process
        clock = threading.Timer(PATIENCE, process.kill)
        clock.start()
        try:
            process.stdin.write(json.dumps(order).encode() + b"\n")
            process.stdin.flush()
            line = process.stdout.readline()
        except OSError as error:
            raise StoppedError(str(error)) from None
        finally:
            clock.cancel()
        if not line.endswith(b"\n"):
            raise StoppedError("no picture came")
        return json.loads(line)

    def stop(self) -> None:
        """End the process, if there is one."""
        process, self._process = self._process, None
        if process is not None:
            process.kill()
            process.wait()
            for pipe in (process.stdin, process.stdout):
                with contextlib.suppress(OSError):
                    pipe.close()


def _started() -> subprocess.Popen:
    engine = importlib.util.find_spec("vl_convert")
    # Isolated: nothing is imported from the working folder or by the user's settings.
    command = [sys.executable, "-I", __file__, str(Path(engine.origin).parents[1])]
    try:
        return subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
            creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
        )  # fmt: skip
    except OSError as error:
        raise StoppedError(str(error)) from None


def _serve(engine_folder: str) -> None:
    """Draw what is asked for until nobody asks any more."""
    sys.path.append(engine_folder)
    import vl_convert

    # Whatever the engine prints must not stand among the answers.
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    for line in sys.stdin.buffer:
        order = json.loads(line)
        try:
            # No address is ever fetched, whatever a chart asks for.
            answer = {"picture": vl_convert.vegalite_to_svg(order["spec"], allowed_base_urls=[])}
        except ValueError as error:
            answer = {"problem": str(error)}
        answers.write(json.dumps(answer).encode() + b"\n")
        answers.flush()


if __name__ == "__main__":
    _serve(sys.argv[1])
