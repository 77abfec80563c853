"""Pictures, one module a topic: charts as named rows on a fixed ground, drawn live or still."""

import sys

# Altair imports jsonschema, and with it an optional grammar of web addresses that takes two seconds to build
# and that charts do not need: it counts as absent while Altair loads.
_grammar = sys.modules.setdefault("rfc3987_syntax", None)
import altair  # noqa: E402

if _grammar is None:
    del sys.modules["rfc3987_syntax"]
