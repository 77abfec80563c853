"""Text that is typed or opened, as it may go on: no control characters, no halves of characters, not too long.

>>> clean("Late\\x0bStove\\n", "name")
'Late Stove\\n'
"""

from __future__ import annotations

import re
import unicodedata

from .errors import InputError, Told

# A heading of a page, and what somebody writes below it. [letters]
NAME, PROSE = 300, 100_000
# A trial as we save it goes 6 deep.
_DEEP = 40

# Line breaks and tabs stay. Control characters and the two U+FFF. are not allowed in a picture (XML 1.0, section 2.2);
# lone surrogates are halves of characters; U+202A to 202E and 2066 to 2069 turn the reading direction around.
_UNFIT = re.compile(r"[\x00-\x08\x0b-\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff\u202a-\u202e\u2066-\u2069]")
# What nobody sees: soft hyphens of a web page, spaces of no width, blanks that pass for letters, tags. And what joins
# or turns letters of other scripts, where it stands beside one of ours: "eg\u00adgs" is eggs to whoever reads it.
_TURNS = r"[\u061c\u180b-\u180f\u200c-\u200f\ufe00-\ufe0f]+"
_UNSEEN = re.compile(
    r"[\u00ad\u034f\u115f\u1160\u17b4\u17b5\u200b\u2060-\u2065\u206a-\u206f\u2800\u3164\ufeff\uffa0\U000e0000-\U000e007f]"
)
_JOINS = re.compile(rf"(?<=[A-Za-z0-9]){_TURNS}|{_TURNS}(?=[A-Za-z0-9])")

# Letters of other scripts, and odd ones of ours, that look like one of ours: of "confusables.txt" of Unicode Technical
# Standard 39 those that a word can be written in; from memory. A line each of Cyrillic (small, capitals), Greek,
# Armenian, Cherokee, Lisu, and Latin.
_LIKE = str.maketrans(
    "аеорсухіјѕһԁԛԝѵӏкмтвёї" "АВЕКМНОРСТУХІЈЅԌԚԜѴӀҮүЁЇ" "αονρυικγηχϲϳωτεΑΒΕΖΗΙΚΜΝΟΡΤΥΧϹͿ"
    "օսհցոՕՍԼ" "ᎪᏴᏟᎠᎬᏀᎻᎫᏦᏞᎷᏢᎡᏚᎢᏙᎳᏃᎩᎥ" "ꓮꓐꓚꓓꓰꓝꓖꓧꓲꓙꓗꓡꓟꓠꓳꓑꓣꓢꓔꓴꓦꓪꓫꓬꓜ"
    "ɑɡıȷɩɪʏʀɢʙʜʟɴᴀᴄᴅᴇᴊᴋᴍᴏᴘᴛᴜᴠᴡᴢꜰꜱʋ",
    "aeopcyxijshdqwvlkmtbëï" "ABEKMHOPCTYXIJSGQWVIYyËÏ" "aovpuikynxcjwteABEZHIKMNOPTYXCJ"
    "ouhgnOUL" "ABCDEGHJKLMPRSTVWZYi" "ABCDEFGHIJKLMNOPRSTUVWXYZ"
    "agijiiyrgbhlnacdejkmoptuvwzfsv",
)  # fmt: skip
_JOINED = {"æ": "ae", "œ": "oe", "ø": "o", "ł": "l", "đ": "d"}  # which do not come apart into a letter and a mark
_MARKS = re.compile(r"[\u0300-\u036f\u0483-\u0489\u1ab0-\u1aff\u1dc0-\u1dff\u20d0-\u20ff\ufe20-\ufe2f]")
_APART = re.compile(r"[\W\d_]+")


def clean(text: object, field: str, most: int = PROSE) -> str:
    """`text` with a space for what has no place in a text, and without what nobody sees; line breaks become plain ones.

    Parameters
    ----------
    text : str
    field : str
        What to call it in the error sentence.
    most : int
        How long it may be. [letters]

    Raises
    ------
    InputError
        If it is no text, or too long.

    Examples
    --------
    >>> clean("x" * 20_000, "title", NAME)
    Traceback (most recent call last):
    drinklab.errors.InputError: title is 20,000 letters long; it must be at most 300 letters.
    """
    if not isinstance(text, str):
        raise InputError(field, Told(f"a {type(text).__name__}"), "text")
    if len(text) > most:
        raise InputError(field, Told(f"{len(text):,} letters long"), f"at most {most:,} letters")
    return fit(text)


def fit(text: str) -> str:
    """`clean` without a limit.

    >>> fit("a\\ud83d\\r\\nb"), fit("eg\\u00adgs\\u200b")
    ('a \\nb', 'eggs')
    """
    if text.isascii() and text.isprintable():  # as nearly every text is, a hundred of them in a saved trial
        return text
    return _JOINS.sub("", _UNSEEN.sub("", _UNFIT.sub(" ", text))).replace("\r\n", "\n").replace("\r", "\n")


def line(text: str) -> str:
    """`fit`, in one line: each run of white space is one space.

    >>> line(" Late\\n  Stove ")
    'Late Stove'
    """
    return " ".join(fit(text).split())


def called(name: str) -> str:
    """A name as names are compared: without case, wide letters, look-alikes, two ways to type an accent.

    >>> called("Zoe\\u0308") == called("ZO\\u00cb"), called("\\u0435gg white")  # with a Cyrillic e
    (True, 'egg white')
    """
    if name.isascii():
        return name.casefold()
    read = fit(unicodedata.normalize("NFKC", name).translate(_LIKE)).casefold()
    return unicodedata.normalize("NFC", read)


def unaccented(text: str) -> str:
    """A text without its accents.

    >>> unaccented("crème de cacao")
    'creme de cacao'
    """
    return _MARKS.sub("", unicodedata.normalize("NFKD", text))


def as_read(text: str) -> str:
    """The words of a text as they are read, to look for one that warns: small plain letters, a space for all else.

    No accent, digit, underline or letter of another script that only looks like ours hides a word.

    >>> as_read("Cr\\u00e8me_de Pamplemousse (2)"), as_read("gr\\u0430pefruit")  # with a Cyrillic a
    ('creme de pamplemousse', 'grapefruit')
    """
    if not text.isascii():
        text = fit(unaccented(text).translate(_LIKE))
    text = text.casefold()
    if not text.isascii():
        text = "".join(_JOINED.get(letter, letter) for letter in text)
    return _APART.sub(" ", text).strip()


def fit_all(data: object, deep: int = 0) -> object:
    """Plain data (of JSON, of a chart) with every text in it `fit`.

    Raises
    ------
    ValueError
        If it is nested deeper than anything of ours.

    Examples
    --------
    >>> fit_all({"name": ["a\\x00b", 1, None]})
    {'name': ['a b', 1, None]}
    """
    if isinstance(data, str):
        return fit(data)
    if isinstance(data, (dict, list)) and deep == _DEEP:
        raise ValueError(f"nested more than {_DEEP} deep")
    if isinstance(data, dict):
        return {fit(key) if isinstance(key, str) else key: fit_all(value, deep + 1) for key, value in data.items()}
    if isinstance(data, list):
        return [fit_all(value, deep + 1) for value in data]
    return data
