"""Lessons: exercises whose answers the package works out, what a typed answer is worth, progress, paper, words.

>>> problem("after_ice", seed=1).answer.kind.label
'% vol'
"""

from .bank import exercise, exercises, problem
from .checking import check
from .lessons import lesson
