"""The one drink in hand of a working folder, as a page sees it: read, kept a moment after each change, followed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from ... import files, logbook
from ...errors import InputError
from ...facts import Fact, say
from ...pantry import Pantry
from ...setting import Setting
from .soon import Soon
from .watch import Watched

SOON = 0.4  # how long a change waits for the next one [s]


class Hand(Watched):
    """The drink in hand of a folder; of the pages of one kind only the newest writes.

    `put` keeps what a person has changed, at once where nothing else is going on, else a moment later, so that a
    slider is not kept waiting. `follow` is called with what another page has put in hand since, `tell` with a problem
    or with a word of what was done, where no hand waits for it.

    A change that cannot be written (a full disk) waits, is told of, and is tried again at the next change and each
    time the page looks. What another page has put in hand since this one last looked is never written over: it is
    set aside first.
    """

    def __init__(
        self,
        folder: Path,
        page: str,
        follow: Callable[[logbook.Opened], None] | None = None,
        tell: Callable[[str | InputError], None] | None = None,
    ) -> None:
        super().__init__(Path(folder) / logbook.IN_HAND, page)
        self.folder, self._follow, self._tell = Path(folder), follow, tell or (lambda said: None)
        self._troubled = False  # whether what waits could not be written
        self._waiting: tuple | None = None
        self._soon = Soon(self._late, SOON)
        self._seen = self._unread = self._looked = self.stamp()
        if follow is not None:
            self.begin()

    def read(self, shelf: Pantry, problems: list[str]) -> logbook.Opened | None:
        """What is in hand; what is wrong with the file goes to `problems`."""
        self._seen = self.stamp()
        try:
            return logbook.in_hand(self.folder, pantry=shelf)
        except InputError as problem:
            problems.append(str(problem))
            return None

    def put(self, setting: Setting, shelf: Pantry, **words: str) -> None:
        """Put a drink in hand.

        Raises
        ------
        InputError
            If it is kept at once, and cannot be.
        """
        self._waiting = setting, shelf, words
        if not self._soon.later():  # while a slider moves nothing is written
            self.keep()

    def now(self, shelf: Pantry) -> logbook.Opened | None:
        """What is in hand; None also where it cannot be read, since that is kept beside."""
        self._looked = self.stamp()
        return self._there(shelf)

    def _there(self, shelf: Pantry) -> logbook.Opened | None:
        try:
            return logbook.in_hand(self.folder, pantry=shelf)
        except InputError:
            return None

    def take(self, setting: Setting, shelf: Pantry, instead_of: logbook.Opened | None = None, **words: str) -> str:
        """Put a drink in hand at once, because a person asked; the other one that was is set aside.

        So is what another page has put in hand since `now` was asked. Returns the sentence on where that is, to be put
        behind another; "" where nothing had to be kept.
        """
        was, self._waiting = self._waiting, (setting, shelf, words)
        self._soon.stop()
        try:
            aside = self._write(lambda: instead_of if self.stamp() == self._looked else self.now(shelf))
        except InputError:
            self._waiting = was
            raise
        return "" if aside is None else say(Fact("in hand before", kept=str(aside.relative_to(self.folder))))

    def keep(self) -> None:
        """Write what waits to be written, unless another page of the kind is newer."""
        self._soon.stop()
        if self._waiting is None or not self.newest:
            return
        aside = self._write(self._overtaken)
        if aside is not None:
            self._tell(say(Fact("in hand at another page", kept=str(aside.relative_to(self.folder)))))

    def _write(self, other: Callable[[], logbook.Opened | None]) -> Path | None:
        """Write what waits; what `other` finds in hand, once nobody else writes there, is set aside: where it is."""
        setting, shelf, words = self._waiting
        with files.alone(self.path):
            found = other()
            aside = None if found is None else logbook.set_aside(self.folder, found)
            logbook.put_in_hand(self.folder, setting, shelf, **words)
            self._seen = self.stamp()
        self._waiting, self._troubled = None, False
        return aside

    def _overtaken(self) -> logbook.Opened | None:
        """What another page has put in hand since this one last looked, if it is another drink or says more of it."""
        setting, shelf, words = self._waiting
        if self.stamp() == self._seen:
            return None
        other = self._there(shelf)
        if other is None or (other.setting == setting and other.note in words.get("note", "")):
            return None
        return other

    def _late(self) -> None:
        try:
            self.keep()
        except InputError as problem:
            if not self._troubled:  # once, not with every try
                self._tell(problem)
            self._troubled = True

    def look(self) -> None:
        """Try again what could not be kept; follow another page, if one has put a drink in hand and nothing waits."""
        if self._troubled and not self._soon.waiting:
            self._late()
        stamp = self.stamp()
        if self._waiting is None and stamp not in (self._seen, self._unread):
            try:
                found = logbook.in_hand(self.folder)
            except InputError:
                self._unread = stamp  # not followed, so never written over as if it were this page's own
                return
            self._seen = stamp
            if found is not None:
                self._follow(found)
