"""What words for a drink say that can hurt: fire, smoke, cold that burns, gas, and heat or bubbles in a shut tin.

>>> [caution.code for caution in of_words("Shake with hot espresso; smoke the glass.")]
['hot liquid', 'flame at the glass', 'smoke at the glass']
>>> of_words("Dry shake, top with soda.")
()
"""

from __future__ import annotations

import functools
import re
from collections.abc import Iterator

from . import foods, texts
from .pantry import name_warns
from .steps import Caution

HOT_LIQUID, SHAKEN_GAS = Caution("hot liquid"), Caution("sparkling, closed")
FIRE = Caution("flame at the glass")

_GASSED = re.compile(
    r"\b(?:s[iy]phons?|(?:cream )?whippers?|(?<!filter )cartridges?|(?:cream|gas) chargers?|nitrous|n o)\b"
)
_BURNS_COLD = re.compile(
    r"\b(?:dry|carbonic) ice\b|\b(?:liquid|chill\w*|cool\w*|fr[eo]ez?\w*|cold|fog\w*)(?: \w+){0,5} nitrogen\b|"
    r"\bliquid n\b|\bln2?\b|\b(?:solid|frozen) (?:co|carbon dioxide)\b|\bco (?:pellets?|snow|ice)\b|\btrockeneis\w*|"
    r"\bflussig\w*stickstoff\b|\b(?:glace|neige) carbonique\b|\bazote liquide\b|\bhielo seco\b|\bghiaccio secco\b|"
    r"\b(?:nitrogeno liquido|azoto liquido)\b"
)
_ON_FIRE = re.compile(
    r"\b(?:flam(?:es?|ed|ing|be|bee|beed|bier\w*|bead[oa]s?)|(?:blow ?)?(?:torch(?:es|ed|ing)?|lamps?)|ignit(?:e|es|"
    r"ed|ing)|light(?:ing)? (?:it|the|up)|light (?:an?|some|one) (?:\w+ ){0,2}(?:sticks?|sprigs?|peel|zest|cubes?|"
    r"leaf)|lit|(?:set|sets|put) light|alight|ablaze|aflame|afire|matchsticks?|(?:a|long|strike|with) match(?:es)?|"
    r"(?:a|with|by) lighter|on fire|set fire|sparklers?|burning|pokers?|loggerheads?|brulee|"
    r"anzund\w*|entzund\w*|candles?|tea ?lights?|kerzen?|bougies?|velas?|candel[ae])\b"
)
# Smoke is of something that glows, made beside the drink: nobody drinks it while it burns. Of what has been smoked
# (salt, salmon, tea), and of smoke in a bottle or on the tongue, nothing glows at the glass.
_EMBERS = r"(?:\w+ ){0,2}?(?:wood|chips?|shavings|sawdust|planks?|hay|pellets)"
_WOOD = "oak|wood|hickory|apple|cherry|beech|cedar|rosemary|thyme|sage|hay|herb|cinnamon|tea|the|hot|fresh"
_SMOKED = re.compile(
    rf"\b(?:(?:light|lit|ignite|torch|burn|char)\w* {_EMBERS}|wood chips?|embers?|smoking|smou?ldering|smokers?|"
    r"smok(?:e|ed|es) (?:the|it|gun|under|over|with|in|inside|for|box|infuser|bubble|filled|top(?:per)?|at the|"
    r"table ?side|glass|tumbler|coupe|cloche|rosemary|thyme|sage)|(?:glass|tumbler|coupe|cloche|decanter) smoked|"
    r"(?:fill\w*|trap|capture|blow|pump|inject|catch|add|cloud of|full of|cloche|dome|bell|lid|bag|decanter) "
    rf"(?:(?!liquid\b)\w+ ){{0,3}}smoke|(?:with|under|of) (?:(?:{_WOOD}) ){{1,2}}smoke|under smoke|"
    r"rauche?rpistole|(?:mit|unter|im) (?:\w+ )?rauch|(?:glas|becher) (?:\w+ )?raucher\w*|fume[rz] (?:le|la|au|sous)|"
    r"fumoir|pistolet a fumee|cloche fumee|avec (?:de )?la fumee|ahum(?:ar|e|a) (?:el|la|con)|pistola de humo|"
    r"con humo|affumica(?:re|te)? (?:il|la|con)|con (?:il )?fumo)\b"
)

# --- what goes into a shut tin or jug ---------------------------------------------------------------------------------

_SENTENCES = re.compile(r"[.;!?()\n]")
# Words that shut it. "A blend of", "a milk shake" and a shaker do not; "never shake hot milk" forbids it.
_SHUTS = re.compile(
    r"\b(?:(?<!milk )(?<!\bthe )(?:shak(?:e|es|en|ing)|shook)|(?<!\ba )(?<!\bthe )(?<!spice )(?<!tea )(?<!house )"
    r"blend(?:s|ed|ing)?(?! of)|blitz\w*|whi[zr]z?(?:ed|ing)?|liquidi[sz]e\w*|(?:ge)?schuttel\w*|mixen|secoue[rz]?|"
    r"frappe[rz]|agit(?:ar|a|e|are|ate)|batir|licuar?|shaker(?:are|ato|ate)|frulla\w*)\b"
)
_FORBIDS = re.compile(r"\b(?:not|never|don t|dont|no|without|avoid|nicht|nie|ne|jamais|non|nunca)(?: \w+)?$")
# Words that open it, or turn to the glass: what follows is in no tin, till one shuts it again.
_OPENS = re.compile(
    r"\b(?:tops?|topped|topping|strain(?:s|ed|ing)?|lengthen\w*|finish\w*|float\w*|serv(?:e|ed|es|ing)|splash\w*|dump\w*|"
    r"crown\w*|charge\w*|garnish\w*|rinse\w*|pre ?heat\w*|warm(?:ed|ing)?|into|onto|without|except|besides?|apart from|"
    r"other than|bar the|all but|but not|before|until|abseihen|auffullen|aufgiessen|allonge[rz]|complete[rz]|"
    r"filtre[rz]|colar|rellenar?|completar|colmare|filtra(?:re|te))\b"
)
_ADDS = re.compile(r"\b(?:add(?:s|ed|ing)?|pour(?:s|ed|ing)?|put|tip(?:ped)?|fill(?:ed)?)\b")
_TIN = re.compile(
    r"\b(?:into|onto|in) (?:(?:a|the|your|both|one|large|small|metal|boston) )*(?:tins?|shakers?|blenders?|"
    r"jugs?|jars?)\b"
)
_STRAINED_IN = re.compile(rf"\bstrain(?:s|ed|ing)? {_TIN.pattern}")
_PUTS_IN = re.compile(rf"^(?:add|combine|put)\b(?!.*{_OPENS.pattern})|{_TIN.pattern}")
_SHUTS_FIRST = re.compile(rf"(?:(?:then|now|dry|hard|and|close|seal|it|quickly) )*{_SHUTS.pattern}")
# "Top with soda and shake gently": that goes for all of it.
_SHUTS_ALL = re.compile(rf"\b(?:and|then) {_SHUTS.pattern}(?: (?:hard|gently|well|again|briefly|it|all|once))* *$")
# "Soda on top": as "top with soda".
_THE_TOP = re.compile(
    r"\b((?:(?:ginger|soda|tonic|sparkling|club|hot|boiling) )?(?:soda|tonic|beer|ale|prosecco|champagne|cava|cremant|"
    r"seltzer|cola|lemonade|water|wine|cider|kombucha|coffee|tea)) (?:(?:on |to |as (?:a )?)?top(?:per)?(?! (?:up|with|"
    r"off|by|it|the)\b)|last|afterwards|at the end)\b"
)
_TOPPED_LAST = re.compile(r"\bmit ((?:\w+ ){1,4}?)(?:auffullen|aufgiessen|toppen|abrunden)\b")
# What cools it in between, or stands in the glass.
_NO_TIN = re.compile(
    r"\b(?:cool\w*|until cold|chill(?:ed)?(?= (?:and|then|it|before))|lets?|left|leave|rests?|"
    r"(?<!mixing )glass(?:es)?|cups?|mugs?|tumblers?|coupes?|flutes?|highballs?|goblets?|"
    r"saucepans?|abkuhl\w*|refroid\w*|enfri\w*|raffredd\w*)\b"
)
_HOT = re.compile(
    r"(?<!no longer )(?<!not )(?<!cold or )(?<!red )\b(?:hot|boiling|boiled|steaming|scalding|piping|heiss\w*|"
    r"kochend\w*|siedend\w*|chaude?s?|bouillante?s?|calientes?|hirviendo|cald[oaie]|bollent[ei])\b"
    r"(?! (?:sauces?|honey|peppers?|chill?i\w*|chiles?|paprika|mustard|salsa|bitters|towels?|glass(?:es)?|cups?|mugs?|"
    r"plates?|minute|second|tinctures?|ginger|cinnamon|spoon|knife|day|kitchen|buttered|pink|cooled|"
    r"and cooled|water cooled))|"
    r"\b(?:freshly|just) (?:brewed|pulled|made) (?:\w+ )?(?:coffee|espressos?|tea)\b|\bfrom the kettle\b"
)
_FLAT = re.compile(r"\b(?:flat|degassed|de gassed|decarbonated|stale) (?:ginger |soda )?\w+")


def _in_the_tin(method: str) -> Iterator[str]:
    """What the words for the making say is in the tin, or the jug, as it is shut; no comma ends a list of it."""
    waits = ""  # of a sentence that only puts it in: "Add the hot coffee. Shake."
    for sentence in _SENTENCES.split(method):
        read = foods.in_drink(sentence.replace(",", " "))
        read = _THE_TOP.sub(r"top \1", _TOPPED_LAST.sub(r"top \1", read))
        if not _SHUTS.search(read):
            waits += f" {read}" if _PUTS_IN.search(read) and not _NO_TIN.search(read) else ""
            continue
        if waits and _SHUTS_FIRST.match(read):
            yield waits
        waits = ""
        read = _TIN.sub(" ", _STRAINED_IN.sub("add", read))
        cuts = {0: True, **{found.start(): True for found in _ADDS.finditer(read)}}
        cuts |= {found.start(): False for found in _OPENS.finditer(read)}
        starts = sorted(cuts)
        for start, end in zip(starts, [*starts[1:], len(read)], strict=True):
            yield from _shut_in(read[start:end], before=cuts[start])


def _shut_in(words: str, *, before: bool) -> Iterator[str]:
    """What a part of a sentence says is shut in, with what it names `before` that, unless it stands in a glass."""
    verbs = list(_SHUTS.finditer(words))
    if not verbs or _FORBIDS.search(words[: verbs[0].start()].rstrip()):
        return
    first = words[: verbs[0].start()]
    if (before or _SHUTS_ALL.search(words)) and not _NO_TIN.search(first):
        yield first
    for verb, following in zip(verbs, [*verbs[1:], None], strict=True):
        held = words[verb.end() : following.start() if following else len(words)]
        yield held if following else held.partition(" then ")[0]


@functools.lru_cache(maxsize=256)
def _shut(method: str) -> tuple[Caution, ...]:
    hot = gassed = False
    for held in _in_the_tin(method):
        warned = name_warns(held)
        hot |= bool(_HOT.search(held)) or "hot" in warned
        gassed |= "sparkling" in name_warns(_FLAT.sub(" ", held))
    return (HOT_LIQUID,) * hot + (SHAKEN_GAS,) * gassed


@functools.lru_cache(maxsize=256)  # the same words at each move of a slider
def of_words(method: str, glass: str = "", ice: str = "", garnish: str = "") -> tuple[Caution, ...]:
    """What the words for a drink's making, glass, ice and garnish bring.

    Of smoke the fire is told to who makes it; who drinks is told of the smoke (`declared.heed`).

    >>> [caution.code for caution in of_words("", garnish="flamed orange zest")]
    ['flame at the glass']
    """
    said = texts.as_read(" ; ".join((method, glass, ice, garnish)))
    smoke = bool(_SMOKED.search(said))
    found = [*_shut(method)]
    if _BURNS_COLD.search(said):
        found.append(Caution("dry ice"))
    if _ON_FIRE.search(_SMOKED.sub(" ", said)):
        found.append(FIRE)
    elif smoke:
        found.append(Caution(FIRE.code, of="smoke"))
    if smoke:
        found.append(Caution("smoke at the glass"))
    if _GASSED.search(said):
        found.append(Caution("gas pressure"))
    return tuple(found)
