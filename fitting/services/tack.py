"""Adding and changing trees, saddles and pads."""

from typing import Any

from fitting.models import Pad, Saddle, TreeSpec
from horses.services.records import store


def add_tree(**values: Any) -> TreeSpec:
    return store(TreeSpec(), **values)


def change_tree(*, tree: TreeSpec, **values: Any) -> TreeSpec:
    return store(tree, **values)


def add_saddle(**values: Any) -> Saddle:
    return store(Saddle(), **values)


def change_saddle(*, saddle: Saddle, **values: Any) -> Saddle:
    return store(saddle, **values)


def add_pad(**values: Any) -> Pad:
    return store(Pad(), **values)


def change_pad(*, pad: Pad, **values: Any) -> Pad:
    return store(pad, **values)
