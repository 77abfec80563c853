"""What words name that can hurt and is in no table of drinks: lye, mad honey, a copper mug, spirit heated in a bag.

One row each: words, the caution they bring (its sentence is in `words/cautions.toml`), and by whose word.

>>> [caution.code for caution in named("Cook the gin sous vide in a sealed bag; serve in a copper mug.")]
['copper', 'heated closed']
>>> named("lime juice, fresh; dry shake, top with soda"), [caution.code for caution in named("nutmeg, ground", True)]
((), ['nutmeg'])
"""

from __future__ import annotations

import functools
import re
from typing import NamedTuple

from . import foods, texts
from .steps import Caution


class Hazard(NamedTuple):
    """A row: the code of its caution, words as `texts.as_read` has them, whether it concerns who drinks, its source.

    Of a guest's nothing counts that a drink is made without; one that is `poured` counts only as something to pour: a
    grating of nutmeg on top is none.
    """

    code: str
    words: str
    guest: bool
    source: str
    poured: bool = False


_HOME = r"(?:home ?made|home ?brew(?:ed)?|house|own|live|raw|wild|unpasteuri[sz]ed|unfiltered)"
_FRESH = (
    r"(?:garlic|ginger|shallots?|onions?|herbs?|basil|rosemary|thyme|sage|mint|coriander|cilantro|dill|parsley|"
    r"chil(?:l?i(?:es)?|es?)|jalapenos?|mushrooms?|tomato(?:es)?|knoblauch)"
)
_SPIRIT = (
    r"(?:spirits?|alcohol|gin|vodka|rum|tequila|mezcal|pisco|whiske?y|bourbon|rye|brandy|cognac|calvados|absinthe|"
    r"liqueur|wine|vermouth|sherry|port)"
)
HAZARDS = (
    Hazard(
        "corrosive",
        r"caustic\w*|(?:sodium|potassium|calcium) hydroxide|natronlauge|kalilauge|pickling lime|slaked lime|"
        r"quicklime|"
        r"(?:hydrochloric|sulphuric|sulfuric|nitric|muriatic|hydrofluoric) acid|glacial acetic(?: acid)?|"
        r"acetic essence|essigessenz|phosphoric acid|(?:hydrogen )?peroxide|wasserstoffperoxid|ammonia|bleach|"
        r"trisodium phosphate|lye|sodium metasilicate|salzsaure|schwefelsaure|soude caustique|soda caustica|"
        r"sosa caustica",
        True,
        "US FDA, statement on 35 % “food grade” hydrogen peroxide (2006, as a cancer centre quotes it; read); of lye "
        "and strong acids: Regulation (EC) No 1272/2008, annex VI, skin corrosion (from memory)",
    ),
    Hazard(
        "ask first",
        r"monkshoods?|wolfsbanes?|aconit\w+|larkspurs?|delphiniums?|(?:angel ?s?|devil ?s) trumpets?|brugmansia|"
        r"jimson ?weed|nightshades?|rhododendrons?|azaleas?|mad honey|deli bal|laburnum|mistletoes?|\byew|colchicum|"
        r"autumn crocus\w*|hyacinths?|jonquils?|narciss\w+|lantana|wisteria|sweet pea flowers?|bleeding hearts?|"
        r"calla lil(?:y|ies)|amaryllis|clematis|hellebores?|christmas roses?|morning glor(?:y|ies)|"
        r"castor (?:beans?|seeds?)|ricin\w*|black locust|cherry laurel|mountain laurel|death camas|"
        r"poppy (?:pods?|heads?|straw|latex|tea)|"
        r"unwashed poppy(?: seeds?)?|opium|fingerhut|eisenhut|goldregen|maiglockchen|tollkirschen?|stechapfel|muguet|"
        r"digitale|acetosella velenosa|adelfas?|laurier rose",
        True,
        "Colorado State University Extension, Edible Flowers: Quick Facts, table 1, plants with toxic parts (read); of "
        "unwashed poppy seed and pods: CSPI to the US Surgeon General, 3 June 2019 (read); mad honey, yew, "
        "nightshade, other languages: from memory",
    ),
    Hazard(
        "ask first",
        r"(?:rubbing|wood|surgical|industrial|denatured) (?:alcohol|spirits?|ethanol)|antifreeze|"
        r"(?:ethylene|diethylene) glycol|methylene blue|hand sanitis?z?er|betel|areca|peyote|ayahuasca|psilocyb\w+|"
        r"magic mushrooms?|amanita|fly agaric|salvia divinorum|ibogaine|snus|iodine tincture|copper sulphate|"
        r"potassium nitrate|sodium nitr[ai]te|saltpet(?:re|er)|pennyroyal oil|wintergreen oil|eucalyptus oil|camphor|"
        r"silver colloid|colloidal silver|chaparral|lobelia|savin|thuja|blue lotus",
        True,
        "no food by their own labels, or controlled substances: common practice, no published source",
    ),
    Hazard(
        "quinine by weight",
        r"(?:cinchona|quina|china|fever tree|peruvian|jesuit ?s?) ?(?:bark|rinde)\w*|chinarinde|cinchona(?: \w+)?|"
        r"(?:house|home ?made) tonic(?: \w+)?|tonic tincture|"
        r"quinine (?:sul(?:ph|f)ate|powder|hydrochloride|salt|syrup|tincture|bark)",
        True,
        "21 CFR 172.575, quinine: at most 83 parts per million in carbonated drinks, named on the label (read)",
    ),
    Hazard(
        "pure caffeine",
        r"(?:pure|powdered|anhydrous|liquid|concentrated) caffeine|caffeine (?:powder|anhydrous|extract|concentrate|"
        r"tablets?|pills?)|koffeinpulver|cafeine pure",
        True,
        "US FDA to sellers of powdered caffeine, 27 August 2015, as a chemists' paper quotes it: a teaspoon is about "
        "28 cups of coffee (read)",
    ),
    Hazard(
        "nutmeg",
        r"nutmegs?|muskatnu\w+|(?:noix )?muscade|nuez moscada|noce moscata|mace(?! brush)",
        True,
        "poisonings from 5 g, about a nutmeg, up: a toxicology handbook that quotes Painter and others 1971 (read); "
        "Ehrenpreis and others, J. Med. Toxicol. 10 (2014) 148 (abstract, read)",
        poured=True,
    ),
    Hazard(
        "raw animal food",
        r"oyster shooters?|(?:raw|live|shucked) (?:oysters?|clams?|mussels?|scallops?|prawns?|shrimps?|fish|salmon|"
        r"tuna|beef|meat|liver|blood|bacon|shellfish)|oysters? on the half shell|(?:snake|turtle|deer) blood|"
        r"rohe austern?|huitres? crues?|ostras? crudas?|ostriche crude",
        True,
        "FDA Food Code 3-603.11, consumer advisory (as Oregon and Indiana quote it; read)",
    ),
    Hazard(
        "glitter",
        r"\w*glitters?|(?:lust(?:er|re)|disco|twinkle|sparkle|pearl|petal|shimmer|highlighter) (?:dust|powder)s?|"
        r"paillettes?|purpurina",
        True,
        "US FDA, advice to home and commercial bakers to avoid non-edible decorative products (read)",
    ),
    Hazard(
        "copper",
        r"(?:bare |unlined |solid |hammered )?(?:copper|brass|kupfer|cuivre|cobre|rame) ?(?:mugs?|cups?|tumblers?|"
        r"tankards?|goblets?|jugs?|bowls?|pitchers?|becher)|kupferbecher|(?:tasse|mug|gobelet) (?:en|de) cuivre|"
        r"taza de cobre|tazza di rame",
        False,
        "FDA Food Code 4-101.14: no copper against food below pH 6 (as a bulletin of the Iowa Alcoholic Beverages "
        "Division of 2017 quotes it; read in the news)",
    ),
    Hazard(
        "infused oil",
        rf"{_FRESH} (?:\w+ )?(?:oils?|confit|in (?:\w+ )?(?:oil|butter|fat))|garlic (?:in )?honey|infused oils?|"
        rf"(?:oil|fat|butter) (?:infused|flavou?red) with (?:\w+ )?{_FRESH}|krauterol|knoblauchol|"
        r"huile (?:a l ail|aux herbes)|aceite de ajo|olio all aglio",
        False,
        "Penn State Extension, Preserving Foods in Oil: at least three outbreaks of botulism from garlic in oil; cold "
        "and used within 10 days, or frozen (read); of honey: from memory",
    ),
    Hazard(
        "ferments",
        rf"tepache|ginger bugs?|tibicos|kvass|pulque|chicha|{_HOME} (?:\w+ )?(?:kombucha|kefir|"
        r"ginger beer|root beer|cider|mead|perry)|still fermenting|ferment(?:ing|s|ed)? (?:in|with|at|for|under)|"
        r"lacto ferment\w*|(?:second|bottle|wild|natural) ferment(?:ation|ing)|ferment(?:ed|ing) (?:juice|"
        r"syrup|fruit|honey|pineapple|berries|plums?|whey)|scoby|(?:champagne|bakers?|brewers?|wine) yeast|"
        r"federweisser|sturm",
        False,
        "BC Centre for Disease Control, A study of alcohol levels in kombucha, March 2020: live drinks go on making "
        "alcohol where they are not kept cold (its contents read, the rest from memory); of bursting bottles: a "
        "seller of cultures (read)",
    ),
    Hazard(
        "nitrous oxide",
        r"nitrous(?: oxide)?|\bn o\b|n2o|(?:cream|whip(?:ping|ped)?(?: cream)?) (?:chargers?|cartridges?|canisters?|"
        r"siphons?|syphons?)|whippers?|lachgas|gaz hilarant|protoxyde d azote|oxido nitroso|protossido",
        False,
        "US FDA, advice not to inhale nitrous oxide, 14 March 2025 (as a news agency quotes it; read); frost injury: "
        "NSW Health, nitrous oxide (read)",
    ),
    Hazard(
        "heated closed",
        r"sous ?vide|(?:(?:sealed|closed|zip(?:per|lock)?|airtight|screw ?top|vacuum(?: sealed)?) (?:\w+ )?(?:bags?|"
        r"jars?|pouch(?:es)?|bottles?|pots?)|vacuum seal\w*)(?: \w+){0,7} (?:water bath|hot water|steam\w*|heat\w*|"
        r"simmer\w*|boil\w*|cook\w*|oven)|(?:heat|cook|warm|steam|simmer|boil)\w*(?: \w+){0,5} (?:in|"
        r"inside) an? (?:sealed|"
        r"closed|airtight|screw ?top) \w+|pressure cook\w*|instant ?pot|autocuiseur|schnellkochtopf|"
        rf"microwav\w+(?: \w+){{0,6}} {_SPIRIT}",
        False,
        "a warning with the word of makers and a test laboratory against liquor in pressure cookers and in closed jars "
        "(read); from which temperature its vapour lights: `boiling.flash_point`",
    ),
    Hazard(
        "flame",
        rf"(?:simmer|heat|warm|boil|reduc|deglaz)(?:e|es|ed|ing|s)?(?: \w+){{0,4}} {_SPIRIT}",
        False,
        "flash points of alcohol in water, an engineering data page (as `boiling.flash_point` has them; read)",
    ),
    Hazard(
        "dry ice",
        r"dry ice|liquid nitrogen|trockeneis|carbonic ice|flussig\w*stickstoff|hielo seco|ghiaccio secco|"
        r"glace carbonique|azote liquide",
        False,
        "as in `words/cautions.toml`",
        poured=True,
    ),
)  # fmt: skip
CODES = tuple(dict.fromkeys(hazard.code for hazard in HAZARDS))
OF_GUESTS = tuple(dict.fromkeys(hazard.code for hazard in HAZARDS if hazard.guest))
_READ = tuple((hazard, re.compile(rf"\b(?:{hazard.words})\b")) for hazard in HAZARDS)


@functools.lru_cache(maxsize=512)  # the same names at each move of a slider
def named(words: str, poured: bool = False) -> tuple[Caution, ...]:
    """Cautions of what words name, each code once; `poured` where they are the name of something to pour.

    Parameters
    ----------
    words : str
        Of a bottle, or of glass, ice, garnish and method.
    poured : bool

    >>> [caution.code for caution in named("garlic oil", True)], named("without glitter")
    (['infused oil'], ())
    """
    read = {True: foods.in_drink(words), False: texts.as_read(words)}
    found = [h.code for h, said in _READ if (poured or not h.poured) and said.search(read[h.guest])]
    return tuple(map(Caution, dict.fromkeys(found)))
