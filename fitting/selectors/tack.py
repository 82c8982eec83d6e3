"""Saddles, trees and pads as pages show them."""

from django.db.models import Count, F, OuterRef, Prefetch, Q, QuerySet, Subquery

from fitting.models import Pad, Pairing, Saddle, SafetyCheck, TreeSpec

SAME_PLACE_MM = 3.2  # 1/8 in: closer than a tape is read


def saddles_listed(*, words: str = "", retired: bool = False) -> QuerySet[Saddle]:
    """Return saddles with tree and owner, how many horses each is on, and the last safety."""
    last = SafetyCheck.objects.filter(saddle=OuterRef("pk")).order_by("-checked_on", "-pk")
    saddles = Saddle.objects.filter(is_retired=retired).select_related("tree", "owner")
    for word in words.split():
        saddles = saddles.filter(
            Q(tag__icontains=word) | Q(tree__tag__icontains=word) | Q(owner__name__icontains=word)
        )
    return saddles.annotate(
        horse_count=Count("pairings__horse", filter=Q(pairings__to_date=None), distinct=True),
        safety=Subquery(last.values("result")[:1]),
    ).order_by("tag")


def saddle_with_all(pk: int) -> QuerySet[Saddle]:
    pairings = Pairing.objects.select_related("horse", "pad", "rider").order_by(
        F("to_date").desc(nulls_first=True), "-from_date", "pk"
    )
    return (
        Saddle.objects.filter(pk=pk)
        .select_related("tree", "owner")
        .prefetch_related(Prefetch("pairings", pairings), "safety_checks")
    )


def same_to_the_horse(saddle: Saddle) -> QuerySet[Saddle]:
    """Return the other saddles with the same tree, rigging and stirrup position."""
    tree_id, rigging, stirrup_mm = saddle.horse_side_key
    if tree_id is None or not rigging or stirrup_mm is None:
        return Saddle.objects.none()
    return Saddle.objects.filter(
        tree_id=tree_id,
        rigging=rigging,
        stirrup_behind_tip_mm__range=(stirrup_mm - SAME_PLACE_MM, stirrup_mm + SAME_PLACE_MM),
    ).exclude(pk=saddle.pk)


def trees_listed(words: str = "") -> QuerySet[TreeSpec]:
    trees = TreeSpec.objects.annotate(saddle_count=Count("saddles")).order_by("tag", "pk")
    for word in words.split():
        trees = trees.filter(tag__icontains=word)
    return trees


def tree_with_saddles(pk: int) -> QuerySet[TreeSpec]:
    saddles = Saddle.objects.select_related("owner")
    return TreeSpec.objects.filter(pk=pk).prefetch_related(Prefetch("saddles", saddles))


def pads_listed() -> QuerySet[Pad]:
    current = Q(pairings__to_date=None)
    return Pad.objects.annotate(
        horse_count=Count("pairings__horse", filter=current, distinct=True)
    ).order_by("is_retired", "name", "pk")
