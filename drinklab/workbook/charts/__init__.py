"""Pictures, one module a topic: charts as named rows on a fixed ground, drawn live or still."""

import functools
import importlib
import sys


class _Altair:
    """Altair, loaded when the first picture is made: a page whose pictures are kept (`live.once`) does without."""

    def __getattr__(self, name: str):
        return getattr(_loaded(), name)


@functools.cache
def _loaded():
    # Altair imports jsonschema, and with it an optional grammar of web addresses that takes two seconds to build
    # and that charts do not need: it counts as absent while Altair loads.
    grammar = sys.modules.setdefault("rfc3987_syntax", None)
    try:
        return importlib.import_module("altair")
    finally:
        if grammar is None:
            del sys.modules["rfc3987_syntax"]


alt = _Altair()
