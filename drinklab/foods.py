"""What words name of the fourteen of Regulation (EU) No 1169/2011, annex II: names, garnishes, rims, methods.

>>> contained(in_drink("Rim of hazelnuts; strain through a coffee filter, without milk."))
('nuts',)
"""

from __future__ import annotations

import re
from collections.abc import Collection

from . import texts

# Of each of the fourteen what is put on a rim, into ice or on a drink; as `texts.as_read` has it, from memory, and by
# the names of an open list of foods (tests/food_names.csv). Beer is of barley, soya sauce of wheat too, lemon curd and
# macaroons of egg; lecithin is of soya where no other is named. "Rye" and "malt" alone are whiskies to a bar.
_FOODS = {
    "cereals containing gluten": r"\w*biscuits?|cookies?|\w*breads?|(?:bread)?crumbs?|crackers?|pretzels?|"
    r"wafers?(?! thin)|pastry|pastries|(?<!rice )\w*cakes?|croissants?|brioches?|baguettes?|bagels?|waffles?|"
    r"croutons?|doughnuts?|donuts?|brownies?|churros?|panko|biscotti|cantucci\w*|speculoos|wheat(?:flour|germ|meal|"
    r"en)?|spelt(?:flour)?|semolina|bulgur|couscous|barley|oats?|oatmeal|oatmilk|cereals?|granola|muesli|"
    r"(?<!rice )(?<!corn )(?<!almond )(?<!buckwheat )flour|malted milk|malted barley|malt (?:extract|powder|syrup|"
    r"vinegar)|seitan|kvass|soya? sauce|shoyu|ponzu|teriyaki|hoisin|(?<!ginger )(?<!root )(?:beers?|ales?)|lagers?|"
    r"stouts?(?! (?:\w+ )?glass)|porters?|ipa|pils(?:e?ner)?|sourdough|gluten(?! free)|kamut|einkorn\w*|durum|"
    r"freekeh|spaghetti|macaroni|bucatini|pasta straws?|(?<!rice )(?<!glass )noodles?|tempura|panettone|tiramisu",
    "crustaceans": r"prawns?|shrimps?|crabs?(?! apples?)|lobsters?|crayfish|langoustines?|scampi|krill|shellfish|"
    r"crustaceans?|bisque",
    "eggs": r"eggs?|yolks?|meringues?|mayo(?:nn?aise)?|custard|(?:lemon|lime|orange|passion ?fruit) curd|macaroons?|"
    r"macarons?|pavlovas?|hollandaise|bearnaise|tiramisu",
    "fish": r"fish(?:es)?|anchov\w+|bonito|katsuobushi|dashi|salmon|tuna|caviar|roe|sardines?|mackerel|herrings?|"
    r"eels?|worcester\w*|nam pla|leche de tigre|garum|bottarga|furikake|isinglass|surimi|cod|trout|halibut|haddock|"
    r"turbot|flounder|hake|pollock|saithe|grouper|pangasius|lemon sole",
    "peanuts": r"peanuts?|groundnuts?",
    "soybeans": r"soy|soya|soybeans?|miso|tofu|edamame|tamari|shoyu|tempeh|natto|(?<!sunflower )lecithins?|ponzu|"
    r"teriyaki|hoisin|gochujang|doenjang",
    "milk": r"milk(?! thistle)|creams?(?! (?:of|sherr\w+|sodas?|ale|style)\b)|butter(?:ed|scotch|milk|fat)?|"
    r"\w*cheese(?:cakes?|s)?|ghee|yogh?urts?|yoghourts?|kefir|whey|custard|caramel|mascarpone|ricotta|parmesan|feta|"
    r"fudge|toffee|white chocolate|ganache|(?:lemon|lime) curd|lattes?(?! di (?:mandorl|avena|cocco|soia|riso|"
    r"nocciol))|cappuccinos?|flat whites?|gelato|lassi|ayran|case?in(?:e|ate)?|caseinato|lactose|paneer|halloumi|"
    r"mozzarella|burrata|stilton|roquefort|gorgonzola|cheddar|gouda|brie|pecorino|gruyere|chantilly|"
    r"(?<!non )dairy(?! free)|pesto|cajeta|camembert|comte|edam|emmenth?al(?:er)?|fontina|fontal|cotija|"
    r"double gloucester|parmigiano|grana padano|provolone|manchego|raclette|reblochon|mimolette|quark|skyr|labneh|"
    r"hollandaise|bearnaise|tiramisu",
    "nuts": r"(?:hazel|wal|brazil |macadamia |tree)?nuts?|almonds?|cashews?|pecans?|pistachios?|macadamias?|marzipan|"
    r"orgeat|orzata|nocino|praline|nougats?|amarett[io]|gianduj?[ai]a?|frangipane|macaroons?|macarons?|cantucci\w*|"
    r"dukkah|baklava|crocant",
    "celery": r"celery|celeriac",
    "mustard": r"mustard|dijon",
    "sesame seeds": r"sesame|tahini?|tahina|hal[vw]ah?|gomash?io|furikake|togarashi|shichimi|za ?atar|dukkah|benne",
    "sulphites": r"wines?|vermouths?|sherr(?:y|ies)|prosecco|champagne|cava|cremant|madeira|marsala|(?:ruby|"
    r"tawny) port|fino|amontillado|(?:meta)?(?:bi)?sul(?:ph|f)ites?|sul(?:ph|f)ur dioxide",
    "lupin": r"lupin[es]?|lupines|lupini",
    "molluscs": r"mollus[ck]s?|oysters?(?! (?:mushrooms?|leaf|leaves|plants?))|clams?|mussels?|scallops?|squid|"
    r"octopus|cuttlefish|calamari|whelks?|snails?|shellfish",
}  # fmt: skip
# The same in German, French, Spanish and Italian, without accents; of eggs and milk the rest is read by `name_warns`.
# No word that is another in English, or of what is no food: pain, pan, sole, colin, bleu. Buckwheat is no wheat.
_ABROAD = {
    "cereals containing gluten": r"(?!buchweizen)\w*weizen\w*|\w*dinkel\w*|\w*gersten?\w*|roggen\w*|\w*hafer\w*|"
    r"\w*brote?|\w*brotkrumen?|\w*kekse?|zwieback|lebkuchen\w*|malz(?:mehl|extrakt|bier|essig|trunk)?|ble(?! noir)|"
    r"froment|orge|seigle|avoine|epeautre|engrain|boulgour|semoule|frik|farine(?! d(?:e)? (?:riz|mais|sarrasin|"
    r"ble noir|pois|coco|amande|chataigne))|pain d epices?|cereales|trigo(?! sarraceno)|cebada|centeno|espelta|avena|"
    r"semola|harina(?! de (?:arroz|maiz|sarraceno|trigo sarraceno|alforfon|garbanzo|coco|almendra))|galletas?|"
    r"frumento|grano(?! saraceno)|orzo|segale|farro|glutine|farina(?! di (?:riso|mais|(?:grano )?saraceno|ceci|cocco|"
    r"castagn))|savoiardi|(?!ingwer|wurzel)\w*bier|bieres?|cervezas?|birra",
    "crustaceans": r"garnelen?|krabben?|hummer|krebs(?:e|fleisch|tieren?)?|krustentieren?|langusten?|crevettes?|"
    r"crabes?|homards?|langoustes?|ecrevisses?|crustaces?|gambas?|camaron(?:es)?|langostas?|langostinos?|cangrejos?|"
    r"bogavantes?|crustaceos?|gamber\w+|granchi\w*|aragost\w+|crostacei",
    "eggs": r"(?:huhner|frisch|voll|trocken|flussig)\w*ei(?:er\w*|weiss\w*|klar\w*|gelb\w*|pulver)?|eigelb\w*|"
    r"eiklar\w*|eipulver|baisers?|mering[ah]e?|merengues?",
    "fish": r"(?!tinten)\w*fisch\w*|sardellen?|sardinen?|sardinas?|\w*lachs\w*|kaviar|hering\w*|makrelen?\w*|"
    r"kabeljau|forellen?|heilbutt|poissons?|anchois|saumon|thon|cabillaud|morue|maquereau|fletan|aiglefin|truite|"
    r"harengs?|merlus?|merlan|merou|colin d alaska|pescados?|anchoas?|boquerones|atun|bacalao|merluza|trucha|arenque|"
    r"halibut|pesc[ei]|acciug\w+|alici|salmone|tonno|caviale|aringa|merluzzo|trota|sgombro|cernia",
    "peanuts": r"erdnue?ss\w*|arachid\w+|arachis|cacah\w+|(?<!le )(?<!due )mani",
    "soybeans": r"soja\w*|soia|tonyu|lecithine(?! de tournesol)|lecitina(?! d[ei] girasol)",
    "milk": r"(?!omakase)\w*kase(?:pulver|wurfel|rinde)?|kaese|\w*joghurt\w*|\w*molken?\w*|\w*rahm(?:joghurt|pulver|"
    r"sauce|sosse)?|schmand|topfen|\w*quark\w*|laktose|butter(?:fett|reinfett|schmalz)|(?!erdnuss|nuss|mandel|kakao|"
    r"kokos|shea|peanut|nut|cocoa|almond|apple)\w*butter|edamer|(?!hafer|mandel|kokos|soja|reis|hanf|cashew|dinkel|"
    r"pflanzen)\w*sahne\w*|creme(?! (?:de?|of|menthe|cacao|cassis|violette|mure)\b)|beurre(?! de?\b)|babeurre|"
    r"laiti\w+|lacte\w+|lactoserum|faisselle|petits? suisses?|fromages?|yaourts?|mantequilla|quesos?|leches|lactosa|"
    r"nata(?! de coco)|yogur|lattosio|latticini|panna|burro(?! di?\b)|formaggi\w*",
    "nuts": r"(?:hasel|wal|baum|para|pekan|pecan|macadamia|cashew|kaschu|queensland)?nue?ss\w*|mandel\w*|"
    r"pistazien?\w*|cashewkernen?|schalenfr\w+|krokant|noisettes?|nougatine|pralin(?:e|ato)?|massepain|"
    r"fruits a coque|noix(?! muscade| de (?:coco|muscade|saint|st|coquille))|amandes?|pistaches?|avellanas?|"
    r"nuez(?! moscada)|nueces|almendras?|pistachos?|alfoncigos?|pacanas?|frutos (?:de|con) cascara|mazapan(?:es)?|"
    r"turron(?:es)?|anacard\w+|nocciol\w+|noc[ei](?! moscat)|mandorl\w+|pistacchi\w*|marzapane|torron[ei]|croccante|"
    r"frutta a guscio",
    "celery": r"\w*sellerie\w*|celeris?|apio|sedano",
    "mustard": r"senf\w*|moutarde|mostaza|senape|mostarda",
    "sesame seeds": r"sesam\w*|ajonjoli",
    "sulphites": r"(?:rot|weiss|schaum|port)?wein|sekt|(?<!da )(?<!\ba )(?<!copa de )vin[ois]?|sulfit\w*|solfiti|"
    r"(?:meta|metabi|di|bi)sulfit\w+|schwefeldioxid|anhydride sulfureux|dioxido de azufre|anidride solforosa",
    "lupin": r"\w*lupinen?\w*|altramu\w+|lupino",
    "molluscs": r"austern?(?:aroma|sauce|saft)?|\w*muscheln?|tintenfisch\w*|weichtieren?|sepien|sepia|krake|huitres?|"
    r"moules|mollusques?|poulpes?|seiches?|encornets?|calmars?|escargots?|(?:noix|coquilles?) (?:de )?(?:saint|"
    r"st) jacques|petoncles?|ostras?|mejillon\w*|almejas?|calamar\w*|moluscos?|vieras?|pulpos?|caracol(?:es)?|"
    r"ostric\w+|cozz[ae]|vongol\w+|molluschi|mitili|polp[oi]|moscardin\w+|seppi[ae]",
}  # fmt: skip
_FOOD = {
    allergen: re.compile(rf"\b(?:{'|'.join(filter(None, (words, _ABROAD.get(allergen))))})\b")
    for allergen, words in _FOODS.items()
}
# What its name leaves open. Of chocolate that names none: US FDA, "Dark Chocolate and Milk Allergies", a survey of
# 2015; soya, from memory. Pesto is made with pine nuts, or with cheaper nuts; surimi is of fish, bound with egg or
# soya, and flavoured with what it passes for: common practice, no published source.
_MAY = {
    words: re.compile(rf"\b(?:{pattern})\b")
    for words, pattern in {
        ("soybeans", "milk"): r"(?:chocolates?|schokolade\w*|chocolat|cioccolato)\b(?! (?:bitters|mint|liqueur))",
        ("milk",): r"creamlike|(?:nut|almond|hazelnut|pistachio|cashew) spreads?|gianduj?[ai]a?|"
        r"(?:pistazien|mandel|nuss|haselnuss|walnuss|cashew|nougat)(?:creme|aufstrich)|"
        r"crem[ae] (?:de |di |d |al |alla |alle |ai |aux? )?(?:pist|nocciol|avellan|almendr|mandorl|noisett|amande|"
        r"noix|nuez|nueces|noc[ei]|anacard|cacah|arachid)\w*",
        ("nuts",): r"pesto",
        ("crustaceans", "eggs", "soybeans"): r"surimi",
    }.items()
}
_MAY_ANY = re.compile("|".join(pattern.pattern for pattern in _MAY.values()))
_HELD = {"raw_egg": "eggs", "dairy": "milk"}
# What is no part of the drink: what it is made without, a tool or a glass called after what it is for, and the milk,
# cream and butter of plants, of which the plant stays. Each ends where its clause does: "Ice: no. Egg white: shake."
# Of a nut the "cream" is a spread or a liqueur, mostly with milk or its powder (common practice, no published source):
# a mark of it stays.
_CLAUSES = re.compile(r"[.,;:!?()\n]")
_WITHOUT = re.compile(
    r"(?<!\bor )(?<!\boder )(?<!\bou )(?<!\bo )\b(?:no|without|instead of|ohne|sans|sin|senza) (?:any |the )?\w+"
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
    r"peanut|pistachio|macadamia|plant|plant based|vegan) "
    r"?(milks?(?! chocolate)|creams?|butters?|cheeses?|yogh?urts?)\b"
)
_NUTS = {"almond", "cashew", "hazelnut", "nut", "peanut", "pistachio", "macadamia"}
_VEGAN = re.compile(r"\b(?:vegan|plant based|dairy free|non dairy)\b")
_CREAMED = "creamlike"
_ANY = re.compile("|".join(food.pattern for food in _FOOD.values()))


def in_drink(words: str) -> str:
    """What of some words is in a drink, as `texts.as_read` has it: no tool, and nothing that it is made without.

    >>> in_drink("No ice. Almond milk, from a milk jug")
    'almond from a'
    """
    return " ".join(" ".join(map(_in_drink, _CLAUSES.split(words))).split())


def _in_drink(clause: str) -> str:
    return _WITHOUT.sub(" ", _OF_PLANTS.sub(_plant, _TOOL.sub(" ", texts.as_read(clause))))


def _plant(found: re.Match[str]) -> str:
    creamed = found[1] in _NUTS and found[2].startswith("cream") and not _VEGAN.search(found.string)
    return f"{found[1]} {_CREAMED} " if creamed else f"{found[1]} "


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

    >>> may_contain("rim of dark chocolate"), may_contain(in_drink("pistachio cream"))
    (('soybeans', 'milk'), ('milk',))
    """
    if not _MAY_ANY.search(read):
        return ()
    held = {word for words, pattern in _MAY.items() if pattern.search(read) for word in words}
    return tuple(allergen for allergen in _FOOD if allergen in held)
