"""The logbook: every saved trial found again, told apart, opened, and taken elsewhere and back."""

from __future__ import annotations

import base64
import contextlib
from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path

import ipywidgets as w

from ... import logbook, trial
from ...declared import declared
from ...display import Display
from ...errors import InputError, Told
from ...facts import Fact, say
from ...logbook import Entry, Opened
from ...pantry import Pantry
from ...recipe import FAMILIES
from ..parts.hand import Hand
from ..parts.html import STYLE, WIDE, Html, declaration, done_words, element, heading, join, para, problem_words, quiet
from ..parts.links import link, notebook
from ..parts.logbook_words import changed_from, figure_tiles, line, notes_words, side_by_side, tree
from ..parts.own_file import OwnFile
from ..parts.page_words import PageWords
from ..parts.panel import Panel, chosen, pick, sides
from ..parts.spoken import Spoken
from ..parts.written import tastings_of

MOST_SHOWN, MOST_SIDE, MOST_TOLD = 200, 6, 40  # lines in the list, trials side by side, versions of one drink
_ANY = "any family"
BUTTON = {"width": "auto", "align_self": "flex-start"}


def panel(folder: str | Path = ".") -> LogbookPanel:
    """The logbook of a working folder.

    Parameters
    ----------
    folder : path
        Working folder: trials are read from its folder `trials`, and all that is written goes there under new names.
    """
    return LogbookPanel(folder)


class LogbookPanel(Panel):
    """What is found, what is chosen of it, and what can be done with it."""

    def __init__(self, folder: str | Path = ".") -> None:
        self.folder = Path(folder)
        self.own_file = OwnFile(self.folder, type(self).__name__, self._own_changed)
        self.shelf = self.own_file.shelf
        kept, problems = chosen(self.folder)
        self.hand = Hand(self.folder, "Logbook", tell=self._hand_said)
        self._among: tuple[Entry, ...] = ()  # all but those in the bin
        self.found: tuple[Entry, ...] = ()
        self._build(logbook.DEFAULTS | kept)
        self.refresh()
        self.said.value = join([self.said.value, *map(problem_words, problems)])

    # --- what is on the page ---------------------------------------------------------------------

    def _build(self, kept: dict) -> None:
        self.words = w.Text(description="Words", placeholder="name, ingredient, note", layout=WIDE)
        self.family = pick("Family", [_ANY, *FAMILIES])
        self.since = w.DatePicker(description="From", layout=WIDE)
        self.until = w.DatePicker(description="To", layout=WIDE)
        self.order = pick("First", [("the newest", ""), ("the nearest to the drink in hand", "hand")])
        self.volume_unit = pick("Volumes in", ("mL", "oz"), kept["volume"])
        self.look_again = w.Button(description="Look again", layout=BUTTON)
        self.count, self.detail, self.said = Html(), Html(), Html()
        self.chosen = w.SelectMultiple(layout=WIDE)
        self.chosen.add_class("dl-lines")
        self._build_one()
        self._build_moving()
        left = [Html(heading("Find")), self.words, self.family, self.since, self.until, self.order, self.volume_unit,
                self.look_again]  # fmt: skip
        hint = Html(quiet(say(Fact("choose several trials"))))
        own = Html(quiet("What your bar has measured itself: ", notebook(self.folder, "12_the_lab_learns"), "."))
        both = sides([*left, own], [self.count, self.chosen, hint])
        super().__init__(
            [Html(STYLE), Spoken(), self.own_file.said, both, self.detail, self.one, self.moving, self.said]
        )
        self.children += ((glossary := PageWords()),)
        glossary.look(self)
        self.add_class("dl-bench")
        for control in (self.words, self.family, self.since, self.until, self.order):
            control.observe(self._show, "value")
        self.volume_unit.observe(self._units_changed, "value")
        self.chosen.observe(self._look_at, "value")
        self.look_again.on_click(lambda _: self.refresh())

    def _build_one(self) -> None:
        """What can be done with the trial that is chosen."""
        self.open_button = self._button("Put it in hand", self.put_in_hand, primary=True)
        self.title = w.Text(description="Title", layout=WIDE)
        self.title_button = self._button("Give it this title", self.rename)
        self.note = w.Textarea(description="Note", rows=2, placeholder="what is known of it now", layout=WIDE)
        self.note_button = self._button("Add this note", self.add_note)
        self.photo = w.FileUpload(accept="image/*", multiple=False, description="Add a photograph", layout=BUTTON)
        self.photo.observe(self._photographed, "value")
        self.bin_button = self._button("Put it into the bin", self.throw_away)
        self.one = w.VBox(
            [Html(heading("With this trial")), self.open_button, self.title, self.title_button, self.note,
             self.note_button, self.photo, self.bin_button],
            layout=w.Layout(max_width="760px", display="none"),
        )  # fmt: skip

    def _build_moving(self) -> None:
        """The bin, backups, and what comes from elsewhere."""
        self.binned = w.Dropdown(description="In the bin", layout=WIDE)
        self.back_button = self._button("Take it out of the bin", self.take_back)
        self.backup_button = self._button("Back up everything", self.back_up)
        self.backup = w.Dropdown(description="Backup", layout=WIDE)
        self.restore_button = self._button("Bring it back", self.restore)
        self.export_button = self._button("Export what is listed", self.export)
        self.given = w.Dropdown(description="File", layout=WIDE)
        self.bring_button = self._button("Take its trials in", self.bring)
        hint = quiet(say(Fact("upload first")))
        inside = w.VBox([
            self.binned, self.back_button, self.backup_button, self.export_button, Html(hint), self.backup,
            self.restore_button, self.given, self.bring_button,
        ])  # fmt: skip
        self.moving = w.Accordion([inside], titles=["The bin, backups, other places"], selected_index=None)

    def _button(self, description: str, does: Callable[[], None], *, primary: bool = False) -> w.Button:
        button = w.Button(description=description, button_style="primary" if primary else "", layout=BUTTON)

        def pressed(_) -> None:
            with self._said():
                does()

        button.on_click(pressed)
        return button

    @property
    def display(self) -> Display:
        """How amounts are shown, as chosen."""
        return Display(self.volume_unit.value)

    # --- finding -----------------------------------------------------------------------------------

    def refresh(self) -> None:
        """Read the folder anew."""
        entries, problems = logbook.entries(self.folder, in_bin=None)
        self._among = tuple(one for one in entries if not one.in_bin)
        binned = [one for one in entries if one.in_bin]
        with self._silently():
            self.binned.options = [("choose a trial …", ""), *((one.label, str(one.path)) for one in binned)]
            zips = self._files(logbook.BACKUPS, ".zip") + self._files("", ".zip")
            self.backup.options = [("choose a backup …", ""), *zips]
            given = self._files(logbook.EXPORTS, (".json", ".csv")) + self._files("", (".json", ".csv"))
            self.given.options = [("choose a file …", ""), *given]
            for choice in (self.binned, self.backup, self.given):
                choice.value = ""
        self.said.value = join(map(problem_words, problems))
        self._show()

    def _files(self, place: str, suffix: str | tuple[str, ...]) -> list[tuple[str, str]]:
        where = self.folder / place
        with contextlib.suppress(OSError):
            names = sorted((p.name for p in where.iterdir() if p.name.endswith(suffix)), reverse=True)
            return [(f"{place}/{name}" if place else name, str(where / name)) for name in names if name[0] != "."]
        return []

    def _show(self, _=None) -> None:
        """List what fits."""
        if self._quiet:
            return
        with self._said():
            near = self._in_hand() if self.order.value else None
            family = None if self.family.value == _ANY else self.family.value
            self.found = logbook.find(
                self._among, self.words.value, family=family, since=self._day(self.since), until=self._day(self.until),
                near=near,
            )  # fmt: skip
        shown = self.found[:MOST_SHOWN]
        with self._silently():
            kept = [path for path in self.chosen.value if path in {str(one.path) for one in shown}]
            self.chosen.options = [(line(one, self.display), str(one.path)) for one in shown]
            self.chosen.value, self.chosen.rows = kept, min(max(len(shown), 3), 14)
        more = Fact("first are shown", most=MOST_SHOWN) if len(self.found) > len(shown) else ""
        none = "" if self._among else Fact("saved on the bench")
        count = Fact("trials found", count=len(self.found), all=len(self._among), more=more, none=none)
        self.count.value = para(say(count))
        self._look_at()

    @staticmethod
    def _day(box: w.DatePicker) -> date | None:
        return box.value if isinstance(box.value, date) else None

    def _in_hand(self) -> dict[str, float]:
        """The figures of the drink in hand."""
        held = logbook.in_hand(self.folder, pantry=self.shelf)
        if held is None:
            raise InputError("drink in hand", Told("none"), "one that is on the bench")
        served = trial.run(held.setting, pantry=held.pantry, draws=0).served.profile
        return {figure: getattr(served, figure) for figure in ("abv", "sugar", "acid")}

    def _units_changed(self, _) -> None:
        self._show()
        with self._said():
            logbook.save_choices(self.folder, volume=self.volume_unit.value)

    # --- what is chosen ------------------------------------------------------------------------------

    def entries(self) -> list[Entry]:
        """The trials that are chosen, the oldest first."""
        by_path = {str(one.path): one for one in self.found}
        return sorted((by_path[path] for path in self.chosen.value), key=lambda one: one.time)

    def _look_at(self, _=None) -> None:
        if self._quiet:
            return
        chosen = self.entries()
        self.one.layout.display = None if len(chosen) == 1 else "none"
        with self._said():
            if len(chosen) == 1:
                with self._silently():
                    self.title.value, self.note.value = chosen[0].title, ""
                self.detail.value = self._words_of(chosen[0])
            elif len(chosen) > MOST_SIDE:
                self.detail.value = para(say(Fact("too many side by side", count=len(chosen), most=MOST_SIDE)))
            elif chosen:
                first, *rest = ((one, self._read(one)) for one in chosen)
                changed = {one.path.name: self._changed(now, first[1]) for one, now in rest}
                self.detail.value = side_by_side(chosen, changed, self.display)
            else:
                self.detail.value = ""

    def _words_of(self, one: Entry) -> str:
        show, line_of = self.display, logbook.line_of(self._among, one.path)
        versions = _around(line_of, one)
        by_name = {other.path.name: other for _, other in versions}
        changed = {}
        for _, other in versions:
            if other.came_from in by_name:
                with contextlib.suppress(InputError):  # what cannot be opened is said when it is chosen
                    changed[other.path.name] = self._changed(self._read(other), self._read(by_name[other.came_from]))
        tasted = [heading("Tasted"), *self._tasted(one)] if one.tastings else []
        found = self._read(one)
        cautions = declaration(declared(*found.setting.brings(found.onto(found.pantry))), show.say)
        parts = [heading(one.title), figure_tiles(one, show), cautions, notes_words(one), *tasted]
        parts += self._photos(one)
        more = Fact("versions around it", count=len(line_of), told=len(versions))
        less = quiet(say(more)) if len(versions) < len(line_of) else ""
        return join([*parts, tree(versions, one, changed), less, quiet(f"File: {one.path.name}")])

    def _photos(self, one: Entry) -> list[str]:
        shown = []
        for name in one.photos:
            try:
                data = base64.b64encode(logbook.shown(one.path, name)).decode()
                of = f"photograph of {one.title}"
                shown.append(element("img", src=f"data:image/jpeg;base64,{data}", alt=of, class_="dl-photo"))
            except InputError as problem:
                shown.append(problem_words(self.display.say(problem)))
        return shown

    def _tasted(self, one: Entry) -> list[str]:
        return [
            para(f"{label}. {said[0]}") if said else problem_words(label)
            for label, said in tastings_of(one, self.folder)
        ]

    def _read(self, one: Entry) -> Opened:
        return logbook.open_saved(one.path, pantry=self.shelf)

    def _changed(self, now: Opened, was: Opened) -> str:
        return changed_from(now.setting, was.setting, was.onto(now.pantry), self.display)

    # --- what is done with it --------------------------------------------------------------------------

    def _chosen_one(self) -> Entry:
        chosen = self.entries()
        if len(chosen) != 1:
            raise InputError("trial", Told(f"{len(chosen)} of them"), "one, chosen in the list")
        return chosen[0]

    def put_in_hand(self) -> None:
        """Put the trial in hand: every page then shows it. What was in hand is kept, if it is nowhere else."""
        one = self._chosen_one()
        found = self._read(one)
        before = self.hand.now(self.shelf)
        words = {"title": found.title, "note": found.note, "came_from": found.came_from}
        kept = self.hand.take(found.setting, found.pantry, before, **words)
        news = logbook.told_of(one.path, found, pantry=self.shelf)
        self._done(Fact("trial is in hand", title=one.title, kept=kept), problems=news)

    def rename(self) -> None:
        """Give the trial another title, in a file of its own."""
        one = self._chosen_one()
        logbook.record(one.path, one.time, title=self.title.value)
        self._done(Fact("trial is renamed", title=self.title.value.strip()))

    def add_note(self) -> None:
        """Add a note to the trial, in a file of its own."""
        one = self._chosen_one()
        logbook.record(one.path, one.time, note=self.note.value)
        self._done(Fact("note is added"))

    def _photographed(self, change) -> None:
        if self._quiet or not change["new"]:
            return
        with self._said():
            one, (given, *_) = self._chosen_one(), change["new"]
            kept = logbook.add_photo(one.path, bytes(given["content"]), given["name"])
            self._done(Fact("photograph is kept"), self._link(kept), ".")
        with self._silently():
            self.photo.value = ()

    def throw_away(self) -> None:
        """Put the trial into the bin; its file stays."""
        one = self._chosen_one()
        logbook.record(one.path, one.time, in_bin=True)
        self._done(Fact("trial is in the bin", title=one.title))

    def take_back(self) -> None:
        """Take a trial out of the bin."""
        if not self.binned.value:
            raise InputError("trial in the bin", Told("not chosen"), "one of the list")
        one = logbook.entry(self.binned.value)
        logbook.record(one.path, one.time, in_bin=False)
        self._done(Fact("trial is out of the bin", title=one.title))

    def back_up(self) -> None:
        """Write all that is saved in the folder into one zip."""
        problems: list[str] = []
        path = logbook.back_up(self.folder, problems)
        all_of_it = Fact("all that can be read is in" if problems else "everything is in")
        self._done(all_of_it, self._link(path), Fact("keep a copy"), problems=problems)

    def restore(self) -> None:
        """Bring back what a backup holds; nothing is written over."""
        if not self.backup.value:
            raise InputError("backup", Told("not chosen"), "one of the list")
        told = logbook.restore(self.backup.value, self.folder)
        said = [Fact("files came back", new=len(told.new), same=told.same)]
        if told.beside:
            said.append(Fact("stand beside it", names=tuple(told.beside[:10])))
        self._done(say(said), problems=told.problems)

    def export(self) -> None:
        """Write what is listed as JSON and as a table."""
        made = logbook.export(self.found, self.folder)
        names = join(map(self._link, made), " and ")
        self._done(Fact("trials are in", count=len(self.found)), names, Fact("without later steps"))

    def bring(self) -> None:
        """Take trials from a file of the folder."""
        if not self.given.value:
            raise InputError("file", Told("not chosen"), "one of the list")
        made, problems = logbook.bring(self.given.value, self.folder)
        self._done(Fact("trials came in", count=len(made)), problems=problems)

    def _link(self, path: Path) -> str:
        return link(path, str(path.relative_to(self.folder)))

    def _done(self, *said: str | Fact, problems: tuple[str, ...] = ()) -> None:
        self.refresh()
        self.said.value = join([self.said.value, done_words(*map(say, said)), *map(problem_words, problems[:10])])

    def _own_changed(self, mine: Pantry) -> None:
        self.shelf = mine
        self.refresh()


def _around(versions: Sequence[tuple[int, Entry]], here: Entry) -> Sequence[tuple[int, Entry]]:
    """Of many versions those next to one: what each changed takes a look into its file."""
    at = next((i for i, (_, one) in enumerate(versions) if one.path == here.path), 0)
    first = max(0, min(at - MOST_TOLD // 2, len(versions) - MOST_TOLD))
    near = versions[first : first + MOST_TOLD]
    least = min((depth for depth, _ in near), default=0)
    return [(depth - least, one) for depth, one in near]
