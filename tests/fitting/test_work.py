"""What a pairing is used for reaches the computation: rope, horn, mounting, the moving back."""

import pytest
from django.db import IntegrityError
from django.test import Client
from django.urls import reverse

from fitting.adapters.fit_inputs import Gathered, gather_fit_inputs
from fitting.engine import cases_for, evaluate_fit
from fitting.models import Pairing, TreeSpec
from horses.models import BackMeasurement
from practice.models import User
from tests.factories import make_horse, make_measurement, make_pairing, make_saddle, make_tree

pytestmark = pytest.mark.django_db


@pytest.fixture
def measurement() -> BackMeasurement:
    return make_measurement(make_horse(), scale_mass_kg=500.0)


def gathered(
    measurement: BackMeasurement, *, tree: TreeSpec | None = None, **values: bool
) -> Gathered:
    saddle = make_saddle(tree=tree or make_tree())
    return gather_fit_inputs(make_pairing(measurement.horse, saddle=saddle, **values), measurement)


def assumed(found: Gathered) -> dict[str, str]:
    return {a.what: a.taken for a in found.account.assumptions}


def test_a_pairing_without_rope_has_no_rope_cases(measurement: BackMeasurement) -> None:
    found = gathered(measurement)
    assert found.inputs.cases == cases_for()
    assert "Pull of the rope" not in assumed(found)
    assert assumed(found)["Bend to a side"] == "8° over 17 in"


def test_a_rope_pulls_a_tenth_of_the_horses_weight(measurement: BackMeasurement) -> None:
    """A sustained draught of a tenth of the horse's weight: draught manuals, at second hand."""
    found = gathered(measurement, ropes=True)
    assert found.inputs.cases == cases_for("rope")
    assert found.inputs.loads.rope_pull == pytest.approx(0.1 * 500 * 9.80665)
    assert assumed(found)["Pull of the rope"] == "490 N"
    assert assumed(found)["Horn behind front tip"] == "over the fork"
    assert assumed(found)["Horn above the bars"] == "200 mm"
    names = [case.name for case in evaluate_fit(found.inputs).cases]
    assert {"rope_forward", "rope_rear"} <= set(names)


def test_a_horse_nobody_weighed_is_taken_as_460_kg() -> None:
    measurement = make_measurement(make_horse(), girth_mm=None, length_mm=None)
    assert gathered(measurement, ropes=True).inputs.loads.rope_pull == 450.0


def test_a_measured_horn_is_used_and_not_assumed(measurement: BackMeasurement) -> None:
    tree = make_tree(horn_behind_tip_mm=95.0, horn_height_mm=230.0)
    found = gathered(measurement, tree=tree, ropes=True)
    assert found.inputs.loads.horn == pytest.approx(0.095)
    assert found.inputs.loads.horn_height == pytest.approx(0.230)
    assert not {"Horn behind front tip", "Horn above the bars"} & set(assumed(found))
    assert {"Horn behind front tip", "Horn above the bars"} <= {
        row.label for row in found.account.went_in
    }


def test_mounting_from_the_ground_adds_its_case(measurement: BackMeasurement) -> None:
    found = gathered(measurement, mounts_from_ground=True)
    assert found.inputs.cases == cases_for("mounting")
    assert "Weight of a mounting rider" in assumed(found)


def test_the_pairings_form_asks_how_the_horse_is_mounted(client: Client, fitter: User) -> None:
    pairing = make_pairing()
    client.force_login(fitter)
    url = reverse("pairing_edit", args=[pairing.pk])
    assert b"mounts_from_ground" in client.get(url).content
    sent = {
        "saddle": pairing.saddle_id,
        "pad": pairing.pad_id,
        "rider": pairing.rider_id,
        "use": "roping",
        "from_date": pairing.from_date.isoformat(),
        "tip_behind_blade_mm": "25 mm",
        "ropes": "on",
        "mounts_from_ground": "on",
    }
    assert client.post(url, sent).status_code == 302
    pairing = Pairing.objects.get(pk=pairing.pk)
    assert (pairing.ropes, pairing.mounts_from_ground) == (True, True)


@pytest.mark.parametrize("bad", [("horn_height_mm", 75.0), ("horn_behind_tip_mm", 256.0)])
def test_a_horn_that_cannot_be_is_refused_by_the_database(bad: tuple[str, float]) -> None:
    with pytest.raises(IntegrityError):
        make_tree(**dict([bad]))
