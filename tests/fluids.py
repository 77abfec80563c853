"""CoolProp, the library of fluid properties that ours are held against; opened when first asked, since that takes 4 s."""

import functools
import importlib


@functools.cache
def __getattr__(name: str):
    if not name[0].isupper():  # who looks for tests in everything asks for "__test__" and the like
        raise AttributeError(name)
    return getattr(importlib.import_module("CoolProp.CoolProp"), name)
