"""Ingredients: how strong, how sweet, how sour, how sure, and who says so.

>>> shelf = load()
>>> shelf["rum_aged"].abv
40.0
>>> shelf.find("lemon juice").id
'lemon_juice'
"""

from __future__ import annotations

import difflib
import functools
import re
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np

from . import files, foods, tables, texts
from .errors import InputError, shortened
from .facts import Fact
from .ingredient import (
    COLUMN,
    ETHANOL,
    MOST_SUCROSE,
    MOST_SUGAR,
    SUGAR_COLUMNS,
    Ingredient,
    fill_with_water,
    no_room,
)  # fmt: skip
from .kinds import ABV
from .learned import Known, label_of
from .liquid import ACIDS, COMPONENTS, SUGARS
from .names import STRENGTH, labelled, pieces, plain, stands_for, trade_words
from .units import read

OWN_FILE = "my_ingredients.csv"
# What an ingredient warns of, and the columns that say it.
WARNINGS = {"allergens": "allergens", "may_contain": "may_contain", "cautions": "caution"}
# Potassium to a gram of acid where no source states it, give or take half (one standard deviation): from none, where
# the acid was added, to what sweet juices hold (orange 0.22, grape 0.17, passion fruit 0.10, lemon 0.02; USDA SR28).
# A judgement.
UNKNOWN_POTASSIUM = 0.08


class Pantry(Mapping[str, Ingredient]):
    """Ingredients by id, in the order of the table.

    Those whose ids are in `own` answer to their very id and whole name alone: "gin, barrel aged" is not plain gin.
    Those in `saved`, which came with somebody's trial, answer to their name, and to an id that means nothing else.
    """

    def __init__(
        self, items: Sequence[Ingredient], own: Collection[str] = (), saved: Collection[str] = (),
        learned: Known = MappingProxyType({}),
    ) -> None:  # fmt: skip
        self._items = {item.id: item for item in items}
        self.learned = learned  # what the bar has measured of its tools, milks and ways to pour
        self._own, self._saved = frozenset(own), frozenset(saved)
        self._bottles: dict[tuple[str, float], Ingredient] = {}
        self._names: dict[str, str] = {}
        theirs = self._own | self._saved
        self._words: dict[str, set[str]] = {}  # ids of ours whose names hold a word
        whole = {plain(name) for item in items for name in (item.name, *[item.id] * (item.id not in theirs))}
        for item in sorted(items, key=lambda item: item.id in self._saved):
            names = [item.name]
            if item.id in self._own and not item.name.isascii():
                # Typed without its accents it is meant too, before what one of ours is called in short.
                names += {texts.unaccented(plain(item.name))} - whole
            if item.id not in theirs:
                short = re.sub(r"\s*\(.*?\)", "", item.name)
                names += [item.id, item.name.split(",")[0], short, short.split(",")[0]]
                for word in plain(item.name).split():
                    self._words.setdefault(word, set()).add(item.id)
            for name in names:
                self._names.setdefault(plain(name), item.id)
        self._spoken = {**self._names}  # names, and what the trade calls them
        for word, (key, _) in trade_words().items():
            if key in self._items and key not in self._own:
                self._spoken.setdefault(word, key)

    def __getitem__(self, key: str) -> Ingredient:
        try:
            return self._items[key]
        except KeyError:
            raise self._unknown(key) from None

    def __contains__(self, key: object) -> bool:
        return key in self._items

    def __iter__(self) -> Iterator[str]:
        return iter(self._items)

    def __len__(self) -> int:
        return len(self._items)

    def bottle(self, key: str, abv: float | None = None) -> Ingredient:
        """The ingredient `key`, in the bottle at hand if its strength `abv` is given."""
        if abv is None:
            return self[key]
        if (key, abv) not in self._bottles:
            self._bottles[key, abv] = self[key].at(abv)
        return self._bottles[key, abv]

    def known(self, name: str) -> Ingredient | None:
        """As `find`, but None where there is none, and at its usual strength where the one said cannot be."""
        key = self._meant(" ".join(name.split()))[0]
        try:
            return self.find(name) if key else None
        except InputError:
            return self._items[str(key)]

    def find(self, name: str) -> Ingredient:
        """The ingredient that a person means by `name`: its id, its name, the name up to a comma, or its words.

        A strength at the end, as on a label, sets the strength of the bottle.

        Raises
        ------
        InputError
            With the near names, when there is none.

        Examples
        --------
        >>> load().find("Aged rum, 50 %").abv
        50.0
        >>> load().find("lemmon juice")
        Traceback (most recent call last):
        drinklab.errors.InputError: ingredient is 'lemmon juice'; it must be one of ... (did you mean lemon juice...?).
        """
        if not isinstance(name, str):
            raise InputError("ingredient", name, "a name")
        name = " ".join(name.split())
        known, strength = self._meant(name)
        if not known:
            if instead := self.instead_of(labelled(name)[0]):
                raise InputError("ingredient", name, instead)
            raise self._unknown(name)
        return self._items[known].labelled(strength) if strength else self._items[known]

    def names(self, name: str) -> bool:
        """Whether something here goes by exactly this name, or is called so by the trade.

        >>> load().names("gin"), load().names("of gin")
        (True, False)
        """
        return self._called(" ".join(name.split())) is not None

    def _meant(self, name: str) -> tuple[str | None, str]:
        """The id that a name stands for, if any, and the strength at its end that is no part of the name."""
        known = self._called(name)
        if known:
            return known, ""
        stem, strength = labelled(name)
        known = self._called(stem)
        if not known and self.instead_of(stem):
            return None, ""
        found = known or self._said(stem) or self._said(name) or self._saved_as(stem)
        return found, strength

    def _saved_as(self, said: str) -> str | None:
        return next((key for key in self._saved if plain(key) == plain(said)), None)

    def _called(self, name: str) -> str | None:
        return name if name in self._own else self._spoken.get(plain(name))

    def instead_of(self, name: str) -> str:
        """What to write instead of a word of the trade that names nothing to pour, or several things; else "".

        >>> load().instead_of("ice").partition(":")[0], load().instead_of("rye")
        ('left out of the pours', '')
        """
        said = plain(name)
        for word in (said, said.removesuffix("s"), said.removesuffix(" cubes"), said.removesuffix(" cube")):
            if word in trade_words() and word not in self._names:
                return trade_words()[word][1]
        return ""

    def search(self, words: str) -> tuple[Ingredient, ...]:
        """Ingredients whose name, kind or trade words hold all of these words, or their beginnings; all for "".

        >>> [item.id for item in load().search("simple syrup")]
        ['sugar_syrup_1to1', 'demerara_syrup', 'sugar_syrup_2to1']
        """
        said = {key: [item.name, item.kind, key] for key, item in self._items.items()}
        for word, key in self._spoken.items():
            said[key].append(word)
        wanted = plain(words).split()
        held = {key: f" {plain(' '.join(names))}" for key, names in said.items()}
        return tuple(item for key, item in self._items.items() if all(f" {word}" in held[key] for word in wanted))

    def grams_of_one(self, item: Ingredient, piece: str) -> float | None:
        """What one piece of it weighs ("leaf", "cube"; "piece" for an egg white); None where no table says. [g]

        >>> load().grams_of_one(load()["egg_white"], "piece"), load().grams_of_one(load()["gin"], "piece")
        (33.0, None)
        """
        return pieces().get((item.id, piece))

    def _said(self, name: str) -> str | None:
        """The id of the one that `_by_words` finds, where these words stand for it."""
        key = self._by_words(name)
        return key if key is not None and stands_for(name, self._items[key].name) else None

    def _by_words(self, name: str) -> str | None:
        """The id of the only one of our ingredients whose name holds all these words ("cold black tea")."""
        words = set(plain(name).split())
        if len(words) < 2 or not words <= self._words.keys():
            return None
        held = set.intersection(*(self._words[word] for word in words))
        return held.pop() if len(held) == 1 else None

    def label(self, item: Ingredient) -> tuple[str, float | None]:
        """What `bottle` makes `item` of again: its id, and its strength where that is not the style's usual one.

        >>> shelf = load()
        >>> shelf.label(shelf.find("gin, 40 %")), shelf.label(shelf.find("gin"))
        (('gin', 40.0), ('gin', None))
        """
        style = self[item.id]
        usual = None if (item.abv, item.abv_pm) == (style.abv, style.abv_pm) else item.abv
        return item.id, label_of(style.measured, item.abv, item.abv_pm, usual)

    def _unknown(self, name: object) -> InputError:
        said = plain(str(name))
        near = difflib.get_close_matches(said, self._names, n=6, cutoff=0.6)
        near += [n for n in self._names if said and (said in n or n in said) and n not in near]
        words = set(said.split())
        near += [n for n in self._names if words & set(n.split()) and n not in near]
        found = [shortened(n) for n in dict.fromkeys(self._items[self._names[n]].name for n in near)][:3]
        hint = f" (did you mean {' or '.join(found)}?)" if found else ""
        return InputError("ingredient", name, f"one of the {len(self)} known{hint}")

    def get(self, key: str, default: Any = None) -> Any:
        """The ingredient `key`, or `default` where there is none."""
        return self._items.get(key, default)

    def with_items(self, items: Sequence[Ingredient]) -> Pantry:
        """A new pantry in which `items` win over those of the same id or name.

        They answer to their whole name alone, unless they go by the very name of what they replace.
        """
        first = {item.id: item for item in items}
        own = {key for key, item in first.items() if key not in self or self._items[key].name != item.name}
        kept = [item for key, item in self._items.items() if key not in first]
        saved, own = self._saved - first.keys(), own | (self._own - first.keys())
        return Pantry([*first.values(), *kept], own, saved, self.learned)

    def with_saved(self, items: Iterable[Ingredient]) -> tuple[Pantry, tuple[str, ...]]:
        """This pantry with the ingredients of a saved trial, and a sentence for each of ours that warns of more now.

        What is here already stays as it is, with the warnings that the saved one has beyond it. Where one id has two
        names, a sentence says so, and what nobody stated of the one is not known of the other. The others stand
        behind ours, with the warnings of their kind and of what goes by their name here. Where that name means
        something here, theirs is marked as saved, so that neither can pass for the other.
        """
        here, saved, notes = dict(self._items), set(self._saved), []
        for item in items:
            if item.id in here and item.id not in saved:
                ours = here[item.id]
                kept = _warned(ours, _warnings(item))
                if _warnings(kept) != _warnings(ours):
                    notes.append(_more_words(ours, kept))
                if plain(item.name) != plain(ours.name):  # it may be another bottle
                    notes.append(_other_words(item, ours))
                    kept = replace(kept, stated=ours.stated and item.stated)
                here[item.id] = kept
            else:
                saved.add(item.id)
                others = Pantry([other for key, other in here.items() if key != item.id], self._own, saved)
                # Whoever sent it may know that it holds none; the reader does not.
                unsure = replace(item, stated=False, no_caution=False)
                theirs = replace(others._inherited(unsure), name=others._apart(item.name))
                # Of two strangers' bottles of one id, the later one never takes the earlier one's warnings away.
                here[item.id] = _warned(theirs, _warnings(here[item.id])) if item.id in here else theirs
        if saved == self._saved and all(item is self._items.get(key) for key, item in here.items()):
            return self, tuple(notes)  # as of nearly every trial: a new one takes as long as all else of opening it
        return Pantry(list(here.values()), self._own, saved, self.learned), tuple(notes)

    def _apart(self, name: str) -> str:
        """A name that means nothing here: this one, or this one marked as saved."""
        marks = ("", " (as saved)", *(f" (as saved, {n})" for n in range(2, len(self) + 3)))
        return next(
            n for n in map(name.__add__, marks) if not self._meant(n)[0] and not self.instead_of(labelled(n)[0])
        )

    def _inherited(self, item: Ingredient, otherwise: Collection[str] = ()) -> Ingredient:
        """`item` with the warnings of its kind, of what its name says, and of what goes by its id or name here.

        None is added of `otherwise`.
        """
        name = " ".join(item.name.split())
        meant = {item.id, self._meant(name)[0], self._by_words(name), self._spoken.get(plain(item.id))}
        found = [self._items[key] for key in meant if key in self._items]
        stated = item.stated or any(other.stated for other in found)
        named = ((), (), name_warns(item.name, item.kind))
        warned = _warned(item, _usual(item.kind), *map(_warnings, found), named, otherwise=otherwise)
        if "may_contain" not in otherwise and (more := _named_foods(warned)):
            warned = replace(warned, may_contain=(*warned.may_contain, *more))
        return warned if warned.stated == stated else replace(warned, stated=stated)


def load(folder: str | Path | None = None) -> Pantry:
    """The pantry, with a user's own ingredients in front.

    Parameters
    ----------
    folder : path, optional
        Working folder; a file `my_ingredients.csv` there adds ingredients, and wins where an id or a name is
        the same. It is only read, never written. Allergens, cautions and what it may contain are those of its
        cell, of the ingredient it replaces, and those that all of its kind have; "none" is the word for none.
        What its name says and its allergens do not, it may contain, unless that column has "none".

    Raises
    ------
    InputError
        For a bad row, by file, line and column.
    """
    own = Path(folder) / OWN_FILE if folder else None
    if own is None or not files.is_there(own):
        return _ours()
    return tables.once(own, _with_own)


def _with_own(own: Path) -> Pantry:
    return _ours().with_items(_own_ingredients(tables.read_file(own, like="ingredients")))


def check_own(text: str, file: str, only: str | None = None) -> None:
    """Refuse, by line and column, a text that `load` could not read as a person's own ingredients.

    With `only`, an id, the other rows are known to be in order by themselves: they are read, and their names compared.
    """
    _own_ingredients(tables.read_text(text, file), only)


@functools.cache
def _ours() -> Pantry:
    return Pantry(_ingredients(tables.read("ingredients")))


def _ingredients(table: tables.Table) -> list[Ingredient]:
    return _checked([_ingredient(row, table.where(i), stated=True) for i, row in enumerate(table.rows())], table.where)


def _own_ingredients(table: tables.Table, only: str | None = None) -> list[Ingredient]:
    """The rows of a person's own file, or that of one id, with the warnings of what they replace and of their kind."""
    ours, found, places = _ours(), [], []
    seen: dict[str, int] = {}
    for i, row in enumerate(table.rows()):
        where = table.where(i)
        for name in {plain(row["id"]), plain(row["name"])}:
            if name in seen:
                raise InputError("name", row["name"], f"used only once; line {seen[name]} has it already", where)
            seen[name] = table.lines[i]
        if only not in (None, row["id"]):
            continue
        otherwise = [name for name, column in WARNINGS.items() if row[column] == "none"]
        item = ours._inherited(_ingredient(row, where, stated=bool(row["allergens"])), otherwise)
        if "cautions" in otherwise:
            item = replace(item, no_caution=True)
        label = STRENGTH.match(item.name)
        if label and item.abv > 0 and abs(float(read(label[2], ABV, "name")) - item.abv) > 0.05:
            raise InputError("name", item.name, f"without a strength, or with its own, {item.abv:g} % vol", where)
        if item.kind in _STRONG and 0 < item.abv < 1:  # 0.4 for 40 %: a guest would be told next to none
            allowed = "in % vol, such as 40; what has next to none is of another kind, such as mixer"
            raise InputError(f"strength of {item.name!r}", item.abv, allowed, where)
        found.append(item)
        places.append(where)
    return _checked(found, places.__getitem__)


def _warnings(item: Ingredient) -> tuple[tuple[str, ...], ...]:
    return item.allergens, item.may_contain, item.cautions


def _warned(item: Ingredient, *more: Sequence[tuple[str, ...]], otherwise: Collection[str] = ()) -> Ingredient:
    """`item` with more warnings, each in the order of `WARNINGS`; none is added to the lists in `otherwise`."""
    held = _warnings(item)
    new: dict[str, tuple[str, ...]] = {}
    for name, has, *others in zip(WARNINGS, held, *more, strict=True):
        if name not in otherwise:
            # What it contains for sure need not be said to be in it perhaps.
            sure = new.get("allergens", held[0]) if name == "may_contain" else ()
            new[name] = (*has, *dict.fromkeys(w for words in others for w in words if w not in has and w not in sure))
    changed: dict[str, Any] = {name: words for name, words in new.items() if words != getattr(item, name)}
    return replace(item, **changed) if changed else item


def _named_foods(item: Ingredient) -> tuple[str, ...]:
    """Allergens that a name says and nobody has told: they may be in it. A still leaves some of them behind."""
    read = foods.in_drink(item.name)
    named = (*foods.contained(read, name_warns(item.name)), *foods.may_contain(read))
    told = {word.partition(" (")[0] for word in (*item.allergens, *item.may_contain)}
    told |= {"cereals containing gluten", "sulphites"} if item.kind == "spirit" else set()
    return tuple(word for word in dict.fromkeys(named) if word not in told)


def _more_words(was: Ingredient, now: Ingredient) -> str:
    more = tuple(dict.fromkeys(
        word.replace("_", " ")
        for had, has in zip(_warnings(was), _warnings(now), strict=True)
        for word in has[len(had) :]
    ))  # fmt: skip
    return Fact("saved with more", name=repr(was.name), more=more).text


def _other_words(saved: Ingredient, ours: Ingredient) -> str:
    return Fact("saved by another name", id=saved.id, was=repr(saved.name), now=repr(ours.name)).text


@functools.cache
def _usual(kind: str) -> tuple[tuple[str, ...], ...]:
    """Allergens, what it may contain and cautions that all of our ingredients of a kind have."""
    held = [_warnings(item) for item in _ours().values() if item.kind == kind] or [((),) * len(WARNINGS)]
    return tuple(
        tuple(w for w in first if all(w in words for words in rest)) for first, *rest in zip(*held, strict=True)
    )


def _not_after(words: str) -> str:
    return "".join(rf"(?<!\b{word} )" for word in words.split())


# Words that say themselves what a guest, or who shakes, must know: a pink grapefruit juice, a house tonic; as
# `texts.as_read` has them. Pomelos, Seville oranges and tangelos (minneola, ugli) may act on medicines as grapefruit
# does (US FDA, "Grapefruit Juice and Some Drugs Don't Mix", 2012); in tangelos of Florida next to none of what does so
# was found (Widmer, J. Food Sci. 70, 2005, C419). Bitter lemon is a tonic. Of other languages, and of slips of the pen,
# what stands on labels; from memory. Of tea all but what is none; of milk and cream all but those of plants, and what
# is only called so. "Egg free" is no exception: an egg may be of free range.
_OF_TEA = _not_after("chamomile camomile peppermint rooibos hibiscus herbal fruit verbena rosehip nettle")
_OF_COWS = (
    _not_after("almond oat soy soya coconut rice hemp cashew hazelnut nut plant vegan pistachio walnut")
    + "(?<!plant based )"
)
_DRUNK_HOT = "waters?|teas?|coffees?|espressos?|chocolate|cocoa|milk|broth|cider|wine|toddy|punch"
_SAID = {
    # What bars use and a food code may forbid or limit: tonka (21 CFR 189.130), sassafras oil (189.180), calamus
    # (189.110), kernels of stone fruit (Regulation (EU) 2023/915), liquorice (Regulation (EU) No 1169/2011, annex III),
    # raw milk (21 CFR 1240.61), wormwood and woodruff (Regulation (EC) No 1334/2008, annex III), what bees make but
    # honey (Australia and New Zealand Food Standards Code 1.2.3). Star fruit is poison to who has weak kidneys;
    # charcoal takes up medicines, St John's wort weakens them. From memory.
    "ask_first": r"tobacc?o\w*|nicotin\w*|tabak|(?:activated|active) (?:\w+ )?charcoal|charcoal powder|aktivkohle|"
    r"(?:apricot|peach|cherry|plum|stone ?fruit) (?:kernel|pit|stone)s?|noyaux?|bitter almonds?|raw elderberr(?:y|ies)|"
    r"elderberr(?:y|ies) raw|elder (?:leaf|leaves|bark|stems?|roots?)|tonka\w*|coumarin|li(?:qu|c)orice|"
    r"st john ?s worts?|hypericum|kava|cbd|thc|cannabi\w+|kratom|khat|pennyroyal|calamus|sassafras|comfrey|ephedra|"
    r"yohimb\w+|wormwood|tansy|woodruff|waldmeister|rhubarb (?:leaf|leaves)|rohmilch|lait cru|leche cruda|latte crudo|"
    r"(?:raw|unpasteuri[sz]ed) (?:\w+ )?(?:milk|cream)|datura|belladonna|foxglove|oleander|lil(?:y|ies) of the valley|"
    r"star ?fruits?|carambola\w*|royal jelly|gelee royale|bee pollen|propolis|bittermandel\w*|amandes? amer\w+|"
    r"almendras? amarg\w+|mandorl\w+ amar\w+|lakritz\w*|sussholz\w*|reglisse|regaliz|liquirizia|johanniskraut|"
    r"millepertuis|hiperico|iperico|charbon (?:actif|vegetal)|carbon activ\w+|carbone attivo|aconite|hemlock|"
    r"daffodils?|hydrangeas?|methanol|methylated|denatured|isoprop\w+|essential oils?|borax|lye",
    "grapefruit": r"gr[ae]?p+[er]*f\w*t\w*|grape fruits?|gre[ijy]p?f\w*t\w*|grei?p+i|pamplem\w+|pampelm\w+|pompelm\w+|"
    r"pomelo\w*|pummelos?|tor[oa]njas?|tangelos?|minn?eolas?|honeybells?|ugli|oro ?blanco|melogold|naranja agria|"
    r"(?:seville|sour) oranges?|"
    r"(?:bitter oranges?|ruby red) (?:juice|marmalade|cordial|syrup|sherbet|soda)",
    "quinine": r"to+n+i(?:c|k|qu)\w*|quinin\w*|quinas?|quinquinas?|[ck]h?inin\w*|chinarinde|kina|chinat[oa]|cinchona|"
    r"bitter ?lemons?",
    "caffeine": r"coff?ee?s?|cafe|caffe|\w*kaff?ee?|koffie|kawa|es?[sx]pr?ess?os?|ristrett[oi]s?|cap+uc+inos?|lattes?|"
    r"mo[ck]{2}as?|mochas?|macchiatos?|flat whites?|cold ?brew(?:s|ed)?|[ck]olas?(?: ?nuts?)?|guarana|cascara|matcha|"
    r"yerba|mate|terere|yaupon|kombucha|chai|earl ?gr[ae]y|english breakfast|darjeeling|assam|ceylon(?! cinnamon)|"
    r"oolong|lapsang|sencha|gyokuro|houj?icha|hojicha|genmai ?cha|pu ?erh?|the (?:noir|vert|blanc|glace)|"
    r"te (?:negro|verde|nero)|(?:(?:schwarz|grun|weiss)(?:er|en)? ?|eis)tee|thee|energy ?(?:drinks?|shots?)|"
    rf"[ck]o?a?f+ein\w*|{_OF_TEA}teas?",
    "raw_egg": r"eggs?(?! (?:plants?|shaped)\b)|egg ?(?:whites?|yolks?|nogs?|s? ?foam)|eg whites?|yolks?|albume|"
    r"albumen|albumin\w*|oeufs?|huevos?|uov[ao]|tuorl[oi]|ovos?|yemas?|ei|eier\w*|eiweiss|eigelb|eiklar|eischnee|"
    r"eidotter|(?:voll|trocken)ei|eiwit\w*|eigeel|eidooiers?|aeg|aegge\w*|agg|aggvit\w*|eggehvit\w*|jaj[ak]\w*|"
    r"advoca+ts?|rompope|zabagl?ione|sabayon|meringues?|mayonn?aise|aioli",
    "sparkling": r"sparkling|carbonated|fizzy|effervescent|gazeuse|gassosa|(?:con|com) gas|sprudel\w*|kohlensaure",
    # Sauces are hot too: only what is drunk so.
    "hot": r"(?:hot|boiling|steaming) (?:(?:black|green|white|filter|mulled|spiced|whole) )?"
    rf"(?:{_DRUNK_HOT})|(?:{_DRUNK_HOT}) (?:hot|boiling)",
    "dairy": rf"{_OF_COWS}(?:(?:butter)?milks?(?! thistle)|(?:ice )?creams?(?! (?:of|sherr\w+|sodas?|ale|style)\b))|"
    r"yogh?urts?|yoghourts?|(?<!water )kefir(?! lime)|labneh|skyr|quark|whey|creme fraiche|half (?:and )?half|"
    r"mascarpone|ricotta|custard|(?:schlag|sauer)?sahne|schlagobers|panna|nata(?! de coco)|"
    r"(?!hafer|mandel|kokos|soja|reis|hanf|erbsen|cashew|haselnuss|dinkel|pflanzen|milchsaure)\w*milch\w*|"
    r"laits?(?! d [ae]| de (?:coco|soja|riz|noi|noisette|chanvre))|latte (?:intero|fresco|scremato|di (?:mucca|capra))|"
    r"leche(?! de (?:coco|almendra|avena|soja|arroz|avellana|tigre))",
}  # fmt: skip
_SAYS = {caution: re.compile(rf"\b(?:{words})\b") for caution, words in _SAID.items()}
_SAYS_ANY = re.compile("|".join(words.pattern for words in _SAYS.values()))
# Said of what is drunk as it is: a cognac may be of Champagne, and a syrup or a vinegar of a soda.
_SPARKLES = re.compile(
    r"\b(?:pross?ecc?os?|champag(?:ne|ner)s?|champange|cava|cremant|spumante|espum\w+|mousseux|schaumwein|perlwein|bubbly|"
    r"frizzante|franciacorta|lambrusco|asti|sekt|pet ?nat|seltzer|kombucha|(?:ginger|ingwer) ?(?:beers?|bier|ales?)|"
    r"root beers?|to+n+i(?:c|k|qu)\w*(?: waters?)?|bitter ?lemons?|colas?|(?:hard|dry) ciders?|cidre|sidra|"
    r"lager|stout|pils|pilsn?er|ale|ipa|beers?|bier|biere|birra|cerveza|(?<!baking )soda(?:s|waters?|wasser)?)\b"
    r"(?! (?:syrup|cordial|vinegar|reduction|jelly|concentrate)\b)"
)
_NO_SPARKLE = {"spirit", "liqueur", "bitters", "syrup", "dairy", "egg"}
_STRONG = {"spirit", "liqueur", "bitters"}


def name_warns(name: str, kind: str = "") -> tuple[str, ...]:
    """Cautions of what a name says is in it.

    >>> name_warns("pink grapefruit tonic, house", "syrup"), name_warns("eggplant syrup")
    (('grapefruit', 'quinine'), ())
    """
    read = texts.as_read(name)
    said = tuple(caution for caution, words in _SAYS.items() if words.search(read)) if _SAYS_ANY.search(read) else ()
    # No cream liqueur, and no spirit washed with milk, goes off as cream does.
    said = tuple(caution for caution in said if caution != "dairy" or kind not in _STRONG)
    more = kind not in _NO_SPARKLE and "sparkling" not in said and bool(_SPARKLES.search(read))
    return (*said, *["sparkling"] * more)


_OTHERS = (*ACIDS, "protein", "fat", "solids")
_PER_LITRE = {name: f"{name}_g_l" for name in ("sugar", *SUGARS, *_OTHERS)}


def _words(cell: str | None) -> tuple[str, ...]:
    words = tuple(word.strip() for word in (cell or "").split(";") if word.strip())
    return () if words == ("none",) else words


def _ingredient(row: dict[str, Any], where: str, stated: bool) -> Ingredient:
    held = {name: grams for name, column in _PER_LITRE.items() if (grams := row.get(column)) and grams == grams}
    sugar = held.get("sugar", 0.0)
    split = {n: held[n] for n in SUGARS if n in held}
    if not split:
        split = {"sucrose": sugar}  # no published split: counted as sucrose
    elif abs(sum(split.values()) - sugar) > 1.0:
        raise InputError(
            f"sugars of {row['name']!r} added up", round(sum(split.values()), 2), f"the total sugar_g_l, {sugar:g} g/L",
            where,
        )  # fmt: skip
    acid = sum(held[n] for n in ACIDS if n in held)
    others = {n: held[n] for n in _OTHERS if n in held} | _potassium(row, acid)
    return Ingredient(
        id=row["id"],
        name=texts.line(row["name"]),  # a line of a recipe ends where its name does
        kind=row["kind"],
        state=row.get("state") or "liquid",
        abv=float(row["abv_percent"]),
        sugar=sugar,
        acid=acid,
        abv_pm=_number(row.get("abv_pm")),
        sugar_pm=_number(row.get("sugar_pm")),
        acid_pm=_number(row.get("acid_pm")),
        solutes={n: g for n, g in {**split, **others}.items() if g},
        published_density=_number(row.get("density_kg_l")) or None,
        allergens=_words(row.get("allergens")),
        may_contain=_words(row.get("may_contain")),
        cautions=_words(row.get("caution")),
        source=row.get("source") or "",
        source_class=row.get("source_class") or "",
        stated=stated,
    )


def _potassium(row: dict[str, Any], acid: float) -> dict[str, float]:
    """Potassium as stated, and the part of it that stands for anything from none to twice as much. [g/L]"""
    stated, pm = row.get("potassium_g_l"), _number(row.get("potassium_pm"))
    known = stated is not None and not np.isnan(stated)
    whole = float(stated) if stated is not None and known else UNKNOWN_POTASSIUM * acid
    unsure = min(2 * pm, whole) if known else whole
    return {"potassium": whole - unsure, "unsure_potassium": unsure}


def _number(value: float | None) -> float:
    return 0.0 if value is None or value != value else value  # of plain floats: NumPy's test takes ten times as long


def _checked(items: list[Ingredient], where_of: Callable[[int], str]) -> list[Ingredient]:
    """Refuse the first liquid that holds more than it can; all at once, since one by one takes a minute a 100,000."""
    grams = np.zeros((len(COMPONENTS), len(items)))
    for row, item in enumerate(items):
        for name, per_litre in item.solutes.items():
            grams[COLUMN[name], row] = per_litre / 1000
    abv = np.array([item.abv for item in items])
    grams[COLUMN["ethanol"]] = abv / 100 * ETHANOL
    water, fits = fill_with_water(grams)
    liquid = np.array([item.state == "liquid" for item in items], dtype=bool)
    sucrose, sugar = grams[COLUMN["sucrose"]], grams[SUGAR_COLUMNS].sum(axis=0)
    shares = ("sucrose", sucrose / (sucrose + water), MOST_SUCROSE), ("sugar", sugar / (sugar + water), MOST_SUGAR)
    for row in np.flatnonzero(liquid & (~fits | (shares[0][1] > MOST_SUCROSE) | (shares[1][1] > MOST_SUGAR))).tolist():
        item, where = items[row], where_of(row)
        if not fits[row]:
            raise no_room(item, where)
        what, share, limit = next((w, s[row], most) for w, s, most in shares if s[row] > most)
        raise InputError(
            f"{what} of {item.name!r}", f"{100 * share:.0f} % of its {what} and water",
            Fact("share that stays dissolved", most=f"{100 * limit:.0f}"), where,
        )  # fmt: skip
    return items
