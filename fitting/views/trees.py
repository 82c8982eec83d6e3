"""Trees: list, add, change, and the page of one."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fitting.adapters.giving_trees import bending_stiffness
from fitting.forms.dimensions import DIMENSIONS, FLEX, SET, grouped
from fitting.forms.trees import TreeForm
from fitting.models import TreeSpec
from fitting.selectors.tack import tree_with_saddles, trees_listed
from fitting.services.tack import add_tree, change_tree
from horses.views.paging import page_of
from horses.views.saving import saved


def tree_list(request: HttpRequest) -> HttpResponse:
    words = request.GET.get("q", "")[:80]
    context = {
        "page": page_of(request, trees_listed(words)),
        "words": words,
        "any_tree": TreeSpec.objects.exists(),
    }
    return render(request, "fitting/tree_list.html", context)


def tree_add(request: HttpRequest) -> HttpResponse:
    kind = request.GET.get("kind", "")
    if kind not in DIMENSIONS:
        return render(request, "fitting/tree_kind.html", {"kinds": TreeSpec.Kind.choices})
    form = TreeForm(request.POST or None, kind=kind)
    tree = saved(request, form, lambda: add_tree(**form.values()))
    if tree is None:
        return render(request, "fitting/tree_form.html", {"form": form})
    messages.success(request, f"Tree {tree} is added.")
    return redirect("tree_detail", pk=tree.pk)


def tree_edit(request: HttpRequest, pk: int) -> HttpResponse:
    tree = get_object_or_404(TreeSpec, pk=pk)
    form = TreeForm(request.POST or None, record=tree, kind=tree.kind)
    if saved(request, form, lambda: change_tree(tree=tree, **form.values())) is None:
        return render(request, "fitting/tree_form.html", {"form": form, "tree": tree})
    messages.success(request, f"Tree {tree} is saved.")
    return redirect("tree_detail", pk=tree.pk)


def tree_detail(request: HttpRequest, pk: int) -> HttpResponse:
    tree = get_object_or_404(tree_with_saddles(pk))
    groups = {
        group: [_row(tree, dimension) for dimension in dimensions]
        for group, dimensions in grouped(DIMENSIONS[tree.kind]).items()
    }
    context = {
        "tree": tree,
        "groups": groups,
        "derived": derived_angles(tree),
        "bending": bending_rows(tree),
    }
    return render(request, "fitting/tree_detail.html", context)


def _row(tree: TreeSpec, dimension: Any) -> dict[str, Any]:
    return {
        "label": dimension.label,
        "unit": dimension.unit,
        "how": dimension.how,
        "value": getattr(tree, dimension.name),
        "is_fine": dimension.unit == "mm" and dimension.group in {FLEX, SET},
        "method": tree.methods.get(dimension.name, ""),
        "typed": tree.typed.get(dimension.name, ""),
    }


def derived_angles(tree: TreeSpec) -> list[tuple[str, float]]:
    """Return included angles and twist per side of a two-bar tree, as far as they are known."""
    front = (tree.slope_front_left_deg, tree.slope_front_right_deg)
    rear = (tree.slope_rear_left_deg, tree.slope_rear_right_deg)
    found = []
    for name, (left, right) in (("Front included", front), ("Rear included", rear)):
        if left is not None and right is not None:
            found.append((name, 180 - left - right))
    for side, fore, aft in (("left", front[0], rear[0]), ("right", front[1], rear[1])):
        if fore is not None and aft is not None:
            found.append((f"Twist {side}", fore - aft))
    return found


def bending_rows(tree: TreeSpec) -> list[tuple[str, str]]:
    """Return what the bending test and flexing say of each bar, as far as they were done."""
    rows = []
    for side in ("left", "right"):
        stiffness = bending_stiffness(tree, side)
        if stiffness is not None:
            rows.append((f"Stiffness {side}", f"{stiffness:.3g} N m²"))
    for side in ("left", "right"):
        left_over = getattr(tree, f"set_{side}_mm")
        if left_over is not None:
            rows.append((f"Kept after flexing, {side}", f"{left_over:+.1f} mm"))
    return rows
