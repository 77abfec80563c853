"""Blind tastings: whether two drinks differ, which is liked better, and what a panel of so many can show.

>>> found = difference_test(24, 11)
>>> found.shown, found.critical, critical_count(24), round(plan(24).power, 2)
(False, 13, 13, 0.64)
"""

from .counts import (
    METHODS,
    MOST_TASTERS,
    Method,
    Result,
    clopper_pearson,
    critical_count,
    difference_test,
    power,
    right,
    similar_count,
    similar_power,
    size,
)
from .record import ABSENT, Found, Tasting, answered, checked, choices, findings, is_right, prepare
from .saved import TASTINGS, entries, from_dict, keep_with_trials, load, save, stem, to_dict, trial_of
from .scales import WORDS, Rated, least_tasters, rated, rated_all
from .serving import (
    LIMIT,
    REFERENCE,
    SCALES,
    SIP,
    WAYS,
    Plan,
    Portion,
    Reason,
    Sample,
    Serving,
    Taster,
    meaningless,
    numbered,
    plan,
    portion,
    read_tasters,
    sample,
    servings,
    to_prepare,
    unfit,
    with_limit,
)
from .table import answers_csv, read_answers
from .thresholds import Step, hopeless, steps

__all__ = [
    "ABSENT", "LIMIT", "METHODS", "MOST_TASTERS", "REFERENCE", "SCALES", "SIP", "TASTINGS", "WAYS", "WORDS", "Found",
    "Method", "Plan", "Portion", "Rated", "Reason", "Result", "Sample", "Serving", "Step", "Taster", "Tasting",
    "answered", "answers_csv", "checked", "choices", "clopper_pearson", "critical_count", "difference_test",
    "entries", "findings", "from_dict", "hopeless", "is_right", "keep_with_trials", "least_tasters", "load",
    "meaningless", "numbered", "plan", "portion", "power", "prepare", "rated", "rated_all", "read_answers",
    "read_tasters", "right", "sample", "save", "servings", "similar_count", "similar_power", "size", "stem", "steps",
    "to_dict", "to_prepare", "trial_of", "unfit", "with_limit",
]  # fmt: skip
