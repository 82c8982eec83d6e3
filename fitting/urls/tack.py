"""/saddles/, /trees/, /soreness-by-tree/, /pads/, /pairings/."""

from django.urls import path

from fitting.views import pairings, saddles, trees
from fitting.views.soreness_by_tree import soreness_by_tree

urlpatterns = [
    # /saddles/
    path("saddles/", saddles.saddle_list, name="saddle_list"),
    path("saddles/add/", saddles.saddle_add, name="saddle_add"),
    path("saddles/<int:pk>/", saddles.saddle_detail, name="saddle_detail"),
    path("saddles/<int:pk>/edit/", saddles.saddle_edit, name="saddle_edit"),
    # /trees/
    path("trees/", trees.tree_list, name="tree_list"),
    path("trees/add/", trees.tree_add, name="tree_add"),
    path("trees/<int:pk>/", trees.tree_detail, name="tree_detail"),
    path("trees/<int:pk>/edit/", trees.tree_edit, name="tree_edit"),
    # /soreness-by-tree/
    path("soreness-by-tree/", soreness_by_tree, name="soreness_by_tree"),
    # /pads/
    path("pads/", saddles.pad_list, name="pad_list"),
    path("pads/add/", saddles.pad_add, name="pad_add"),
    path("pads/<int:pk>/edit/", saddles.pad_edit, name="pad_edit"),
    # /pairings/
    path("horses/<int:pk>/pairings/add/", pairings.pairing_add, name="pairing_add"),
    path("pairings/<int:pk>/edit/", pairings.pairing_edit, name="pairing_edit"),
    path("pairings/<int:pk>/end/", pairings.pairing_end, name="pairing_end"),
]
