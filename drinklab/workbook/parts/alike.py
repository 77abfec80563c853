"""One look for what looks alike: each is a thing of its own to a page, and three fifths of all that a dial was."""

from __future__ import annotations

import ipywidgets as w

_kept: dict[type[w.Widget], w.Widget] = {}


def alike(look) -> w.Widget:
    """The layout or style that widgets which nobody hides, widens or colours share.

    Examples
    --------
    >>> one, other = w.Label(layout=alike(w.Label.layout)), w.Text(layout=alike(w.Text.layout))
    >>> one.layout is other.layout
    True
    """
    kind = look.klass
    if kind not in _kept or _kept[kind].comm is None:  # closed with the rest of a page
        _kept[kind] = kind()
    return _kept[kind]
