"""An evaluation with everything that builds on it."""

from dataclasses import replace

import numpy as np

from fitting.engine import NotConverged, evaluate_fit, from_dict, to_dict
from fitting.engine.study import STEPS, study_fit
from tests.engine.pairs import TR_02, thistle_pair


def test_study_is_the_evaluation_and_all_that_builds_on_it():
    inputs, told = thistle_pair(TR_02), []
    result = study_fit(inputs, told=lambda *step: told.append(step))
    plain = evaluate_fit(inputs)
    assert np.array_equal(result.case("standing").pressure, plain.case("standing").pressure)
    assert [f.value for f in result.findings] == [f.value for f in plain.findings]
    assert result.bands
    assert result.allowances
    assert result.placement_sweep
    assert result.suggestion is not None
    assert [name for name, _ in told] == [name for name, _ in STEPS]
    assert 0 < told[0][1] < told[-1][1] < 1
    assert from_dict(to_dict(result)).suggestion == result.suggestion


def test_step_without_an_answer_leaves_the_fit_standing_and_says_so():
    def stuck(*_):
        raise NotConverged("still moving", residual=1.0, iterations=9)

    result = study_fit(thistle_pair(TR_02), steps=(("The room left", stuck), STEPS[-1]))
    assert result.warnings[-1] == "The room left could not be computed: still moving."
    assert result.suggestion is not None
    assert result.allowances == ()


def test_other_place_gives_another_study():
    inputs = thistle_pair(TR_02)
    moved = replace(inputs, placement=replace(inputs.placement, tip=inputs.placement.tip + 0.02))
    tips = [study_fit(one, steps=(STEPS[1],)).placement_sweep[0].tip for one in (inputs, moved)]
    assert tips[1] - tips[0] > 0.019
