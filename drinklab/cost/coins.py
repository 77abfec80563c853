"""Money, exact: currencies, their coins, and how a country writes them."""

from __future__ import annotations

import functools
from decimal import ROUND_HALF_EVEN, ROUND_UP, Decimal

from ..errors import InputError

# Digits behind the point where they are not two: ISO 4217, list one (from memory; held beside CLDR's in the tests).
_NONE = (
    "BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW", "PYG", "RWF", "UGX", "UYI", "VND", "VUV", "XAF", "XOF",
    "XPF",
)  # fmt: skip
_THREE = ("BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND")
_DIGITS = dict.fromkeys(_NONE, 0) | dict.fromkeys(_THREE, 3) | dict.fromkeys(("CLF", "UYW"), 4)


@functools.cache
def currencies() -> frozenset[str]:
    """Codes of the currencies that are legal tender somewhere today.

    >>> "EUR" in currencies(), "DEM" in currencies()
    (True, False)
    """
    from babel.core import get_global

    held = (row for rows in get_global("territory_currencies").values() for row in rows)
    return frozenset(code for code, _, until, tender in held if until is None and tender)


def digits(currency: str) -> int:
    """Digits behind the point of a currency, by ISO 4217.

    >>> digits("EUR"), digits("JPY"), digits("KWD")
    (2, 0, 3)
    """
    return _DIGITS.get(currency, 2)


def rounded(amount: Decimal, currency: str, up: bool = False) -> Decimal:
    """An amount in the smallest coin of its currency; halves to the even one, or all up.

    >>> rounded(Decimal("1.825"), "EUR"), rounded(Decimal("182.5"), "JPY"), rounded(Decimal("1.821"), "EUR", up=True)
    (Decimal('1.82'), Decimal('182'), Decimal('1.83'))
    """
    return amount.quantize(Decimal(1).scaleb(-digits(currency)), rounding=ROUND_UP if up else ROUND_HALF_EVEN)


@functools.cache
def _locale(country: str, currency: str) -> str:
    """Where an amount is read: a country by its English name, or else where the currency is at home."""
    from babel import Locale
    from babel.core import get_global

    names = {name: code for code, name in Locale("en").territories.items() if len(code) == 2 and code.isalpha()}
    home = currency[:2]  # a code of ISO 4217 begins with the country's own, but for those of several countries
    territory = names.get(country) or (home if home in names.values() else "")
    if not country and currency == "EUR":
        territory = "IE"
    likely = get_global("likely_subtags").get(f"und_{territory}", "en_US")
    return f"{likely.split('_')[0]}_{territory}" if territory else "en_US"


def money(amount: Decimal, currency: str, country: str = "") -> str:
    """An amount as a country writes it.

    Parameters
    ----------
    amount : Decimal
    currency : str
    country : str
        By its English name; where the currency is at home if left out.

    Examples
    --------
    >>> money(Decimal("1234.5"), "EUR", "Germany"), money(Decimal("1234.5"), "USD"), money(Decimal("182"), "JPY")
    ('1.234,50\\xa0€', '$1,234.50', '￥182')
    """
    from babel import Locale, UnknownLocaleError
    from babel.numbers import format_currency

    try:
        locale = Locale.parse(_locale(country, currency))
    except (UnknownLocaleError, ValueError):
        locale = Locale("en")
    value = rounded(amount, currency)
    shown = format_currency(abs(value), currency, locale=locale, currency_digits=True)
    return f"−{shown}" if value < 0 else shown


def checked_currency(code: str, where: str = "") -> str:
    """A code of ISO 4217 that is money somewhere today.

    Raises
    ------
    InputError
    """
    code = str(code)
    if code not in currencies():
        near = " (did you mean the code in capitals?)" if code.upper() in currencies() else ""
        raise InputError("currency", code, f"a code of ISO 4217 that is in use, such as EUR, USD or JPY{near}", where)
    return code
