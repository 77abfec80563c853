"""What goes to print or to a phone: spec card, labels, guest card, menu, each known to fit before it is written.

`lengths` is the rule of what fits; `spec_card`, `labels` (`code` is their square code), `guest_card` and `menu_page`
say what stands on each; `page` fills the templates and keeps the files. All public names are called here: `cards.spec`.

>>> from drinklab.recipe import Recipe
>>> from drinklab.trial import run
>>> one = run(Recipe.parse("45 mL gin\\n90 mL tonic water", name="Down Train", technique="built", serve="long"))
>>> spec(one).size, "Down Train" in spec_html(spec(one))
(10.0, True)
"""

from __future__ import annotations

from .guest_card import Guest, guest, served_with
from .labels import STOCKS, USE_BY, Label, Stock, label
from .menu_page import MenuPage, menu_page
from .page import CARDS, guest_html, labels_html, menu_html, save, spec_html
from .spec_card import STEPS, Spec, spec
