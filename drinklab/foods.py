"""What words name of the fourteen of Regulation (EU) No 1169/2011, annex II: names, garnishes, rims, methods.

>>> contained(in_drink("Rim of hazelnuts; strain through a coffee filter, without milk."))
('nuts',)
"""

from __future__ import annotations

import re
from collections.abc import Collection

from . import texts

# Of each of the fourteen what is put on a rim, into ice or on a drink; as `texts.as_read` has it, from memory. Beer is
# of barley, soya sauce of wheat too, lemon curd and macaroons of egg; lecithin is of soya where no other is named.
_FOODS = {
    "cereals containing gluten": r"\w*biscuits?|cookies?|\w*breads?|(?:bread)?crumbs?|crackers?|pretzels?|"
    r"wafers?(?! thin)|pastry|cakes?|croissants?|brioches?|baguettes?|bagels?|waffles?|croutons?|doughnuts?|donuts?|"
    r"brownies?|churros?|panko|biscotti|cantucci\w*|speculoos|wheat|spelt|semolina|bulgur|couscous|barley|oats?|"
    r"oatmeal|oatmilk|cereals?|granola|(?<!rice )(?<!corn )(?<!almond )flour|malted milk|malted barley|"
    r"malt (?:extract|powder|syrup|vinegar)|seitan|kvass|soya? sauce|shoyu|(?<!ginger )(?<!root )(?:beers?|ales?)|"
    r"lagers?|stouts?(?! (?:\w+ )?glass)|porters?|ipa|pils(?:e?ner)?",
    "crustaceans": r"prawns?|shrimps?|crabs?(?! apples?)|lobsters?|crayfish|langoustines?|scampi|krill|shellfish",
    "eggs": r"eggs?|yolks?|meringues?|mayo(?:nn?aise)?|custard|(?:lemon|lime|orange|passion ?fruit) curd|macaroons?|"
    r"macarons?|pavlovas?",
    "fish": r"fish|anchov\w+|bonito|katsuobushi|dashi|salmon|tuna|caviar|roe|sardines?|mackerel|herrings?|eels?|"
    r"worcester\w*|nam pla|leche de tigre|garum|bottarga|furikake|isinglass",
    "peanuts": r"peanuts?|groundnuts?",
    "soybeans": r"soy|soya|soybeans?|miso|tofu|edamame|tamari|shoyu|tempeh|(?<!sunflower )lecithins?",
    "milk": r"milk(?! thistle)|creams?(?! (?:of|sherr\w+|sodas?|ale|style)\b)|butter(?:ed|scotch)?|\w*cheese|ghee|"
    r"yogh?urts?|yoghourts?|kefir|whey|custard|caramel|mascarpone|ricotta|parmesan|feta|fudge|toffee|white chocolate|"
    r"ganache|(?:lemon|lime) curd|lattes?(?! di (?:mandorl|avena|cocco|soia|riso|nocciol))|cappuccinos?|flat whites?|"
    r"gelato|lassi|ayran|case?in(?:ate)?|lactose|paneer|halloumi|mozzarella|burrata|stilton|roquefort|gorgonzola|"
    r"cheddar|gouda|brie|pecorino|gruyere|chantilly",
    "nuts": r"(?:hazel|wal|brazil |macadamia )?nuts?|almonds?|cashews?|pecans?|pistachios?|macadamias?|marzipan|"
    r"orgeat|orzata|nocino|praline|nougat|amarett[io]|gianduja|frangipane|macaroons?|macarons?|cantucci\w*|dukkah|"
    r"baklava",
    "celery": r"celery|celeriac",
    "mustard": r"mustard|dijon",
    "sesame seeds": r"sesame|tahini|halva|gomash?io|furikake|togarashi|shichimi|za ?atar|dukkah|benne",
    "sulphites": r"wines?|vermouths?|sherr(?:y|ies)|prosecco|champagne|cava|cremant|madeira|marsala|(?:ruby|"
    r"tawny) port|fino|amontillado|sul(?:ph|f)ites?|metabisul(?:ph|f)ites?",
    "lupin": r"lupins?|lupini",
    "molluscs": r"mollus[ck]s?|oysters?(?! (?:mushrooms?|leaf|leaves|plants?))|clams?|mussels?|scallops?|squid|"
    r"octopus|cuttlefish|calamari|whelks?|snails?|shellfish",
}  # fmt: skip
# The same in German, French, Spanish and Italian, without accents; eggs, and what of milk can spoil, are read by
# `name_warns`. No word that is another in English: pain, pan.
_ABROAD = {
    "cereals containing gluten": r"weizen\w*|dinkel\w*|gersten?\w*|roggen\w*|hafer\w*|\w*brote?|\w*brotkrumen?|"
    r"\w*kekse?|zwieback|lebkuchen\w*|ble|orge|seigle|avoine|epeautre|farine|pain d epices?|trigo|cebada|centeno|"
    r"avena|harina|galletas?|frumento|grano|orzo|segale|farro|farina|savoiardi|\w*bier|bieres?|cervezas?|birra",
    "crustaceans": r"garnelen?|krabben?|hummer|krebse?|krustentiere?|langusten?|crevettes?|homards?|ecrevisses?|"
    r"crustaces?|gambas?|camaron(?:es)?|langostinos?|cangrejos?|bogavantes?|crustaceos?|gamber\w+|granchi\w*|"
    r"aragost\w+|crostacei",
    "fish": r"fisch\w*|sardellen?|lachs\w*|kaviar|poissons?|anchois|saumon|thon|pescados?|anchoas?|boquerones|atun|"
    r"pesc[ei]|acciug\w+|alici|salmone|tonno|caviale",
    "peanuts": r"erdnue?ss\w*|arachid\w+|cacah\w+|mani",
    "soybeans": r"soja\w*|soia",
    "milk": r"\w*kase|kaese|joghurt\w*|molke|rahm|schmand|creme(?! (?:de?|of|menthe|cacao|cassis|violette|mure)\b)|"
    r"beurre(?! de?\b)|fromages?|yaourts?|mantequilla|quesos?|nata(?! de coco)|yogur|burro(?! di?\b)|formaggi\w*",
    "nuts": r"(?:hasel|wal|baum|para|pekan|macadamia|cashew)?nue?ss\w*|mandel\w*|pistazien?\w*|noisettes?|"
    r"noix(?! de (?:coco|muscade))|amandes?|pistaches?|avellanas?|nuez(?! moscada)|nueces|almendras?|pistachos?|"
    r"anacard\w+|nocciol\w+|noc[ei](?! moscat)|mandorl\w+|pistacchi\w*",
    "celery": r"sellerie\w*|celeris?|apio|sedano",
    "mustard": r"senf\w*|moutarde|mostaza|senape|mostarda",
    "sesame seeds": r"sesam\w*|ajonjoli",
    "sulphites": r"(?:rot|weiss|schaum|port)?wein|sekt|(?<!da )(?<!\ba )(?<!copa de )vin[ois]?|sulfit\w*|solfiti",
    "lupin": r"lupinen?|altramu\w+|lupino",
    "molluscs": r"austern?|\w*muscheln?|tintenfisch\w*|huitres?|moules|ostras?|mejillon\w*|almejas?|calamar\w*|"
    r"ostriche|cozze|vongol\w+",
}  # fmt: skip
_FOOD = {
    allergen: re.compile(rf"\b(?:{'|'.join(filter(None, (words, _ABROAD.get(allergen))))})\b")
    for allergen, words in _FOODS.items()
}
# Of chocolate that names none: US FDA, "Dark Chocolate and Milk Allergies", a survey of 2015; soya, from memory.
_CHOCOLATE = re.compile(r"\b(?:chocolates?|schokolade\w*|chocolat|cioccolato)\b(?! (?:bitters|mint|liqueur))")
_HELD = {"raw_egg": "eggs", "dairy": "milk"}
# What is no part of the drink: what it is made without, a tool or a glass called after what it is for, and the milk,
# cream and butter of plants, of which the plant stays. Each ends where its clause does: "Ice: no. Egg white: shake."
_CLAUSES = re.compile(r"[.,;:!?()\n]")
_WITHOUT = re.compile(
    r"(?<!\bor )(?<!\boder )(?<!\bou )(?<!\bo )\b(?:no|without|instead of|ohne|sans|sin|senza) (?:any )?\w+"
)
FOR = "wine|champagne|prosecco|sherry|port|vermouth|beer|coffee|tea|espresso|latte|cappuccino|mocha|matcha|cola|tonic"
_TOOL = re.compile(
    rf"\b(?:nut )?(?:milk|nut) bags?\b|\b(?:{FOR}|egg|milk|cream|butter|cheese|yogh?urt|fish|oyster|mustard|nut|bread|"
    r"pastry|chocolate|cake|cookie|biscuit) (?:filters?|strainers?|towels?|spoons?|glass(?:es)?|flutes?|cups?|mugs?|"
    r"bowls?|jugs?|bottles?|cans|tins?|pots?|press(?:es)?|timers?|whisks?|frothers?|whippers?|si?phons?|grinders?|"
    r"mills?|graters?|knife|knives|paper|cloth|machines?|coupes?|cutters?|saucers?|goblets?|tulips?|copitas?|steins?|"
    r"tankards?|stoppers?|corks?|keys?|coolers?|buckets?|fridges?|casks?|barrels?|lights?|shaped|brush(?:es)?|"
    r"muslins?|chargers?|steamers?|crates?|mou?lds?|taps?)\b"
)
_OF_PLANTS = re.compile(
    r"\b((?:cocoa|shea|apple)(?= (?:butter|cheese))|almond|oat|soy|soya|coconut|rice|hemp|cashew|hazelnut|nut|pea|"
    r"peanut|pistachio|macadamia|plant|plant based|vegan) ?(?:milk(?! chocolate)|cream|butter|cheese|yogh?urt)\b"
)
_ANY = re.compile("|".join(food.pattern for food in _FOOD.values()))


def in_drink(words: str) -> str:
    """What of some words is in a drink, as `texts.as_read` has it: no tool, and nothing that it is made without.

    >>> in_drink("No ice. Almond milk, from a milk jug")
    'almond from a'
    """
    return " ".join(" ".join(map(_in_drink, _CLAUSES.split(words))).split())


def _in_drink(clause: str) -> str:
    return _WITHOUT.sub(" ", _OF_PLANTS.sub(r"\1 ", _TOOL.sub(" ", texts.as_read(clause))))


def contained(read: str, codes: Collection[str] = ()) -> tuple[str, ...]:
    """Allergens that words say are in it, in the order of annex II.

    Parameters
    ----------
    read : str
        From `in_drink`.
    codes : collection of str
        Cautions that its name says already, in other languages too.

    >>> contained("eiweiss", ["raw_egg"]), contained("nutmeg")
    (('eggs',), ())
    """
    holds = {_HELD[code] for code in codes if code in _HELD}
    if not holds and not _ANY.search(read):
        return ()
    return tuple(allergen for allergen, food in _FOOD.items() if allergen in holds or food.search(read))


def may_contain(read: str) -> tuple[str, ...]:
    """Allergens that may be in what words name.

    >>> may_contain("rim of dark chocolate")
    ('soybeans', 'milk')
    """
    return ("soybeans", "milk") if _CHOCOLATE.search(read) else ()
