"""Case files: the format, its examples, the command and its exit codes."""

import copy
import io
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from jsonschema import Draft202012Validator

from fitting.adapters.case_result import NoBalance, evaluate_case_file
from fitting.adapters.casefile import CaseFileError, case_inputs, load_case_file, validator
from fitting.adapters.model_limits import LIMITS
from fitting.engine import LOAD_CASES, cases_for, default_layers, evaluate_fit

ROOT = Path(__file__).resolve().parents[2]
EXAMPLES = ROOT / "fitting" / "casefile" / "examples"
NAMES = sorted(path.stem for path in EXAMPLES.glob("*.json"))


def example(name: str) -> dict:
    return json.loads((EXAMPLES / f"{name}.json").read_text(encoding="utf-8"))


def changed(name: str, path: str, value: object) -> str:
    """Return an example with one field set; a value of `...` takes the field away."""
    data = copy.deepcopy(example(name))
    *parents, last = path.split(".")
    at = data
    for part in parents:
        at = at[int(part)] if isinstance(at, list) else at[part]
    if value is ...:
        del at[last]
    else:
        at[int(last) if isinstance(at, list) else last] = value
    return json.dumps(data)


def result(text: str, **options: bool) -> dict:
    return evaluate_case_file(text, **options)


def number(case: dict, code: str, zone: str = "", side: str = "") -> float:
    return next(
        m["value"]
        for m in case["measures"]
        if (m["code"], m["zone"], m["side"]) == (code, zone, side)
    )


def test_schema_is_one():
    Draft202012Validator.check_schema(validator().schema)
    assert NAMES == [
        "explicit_grids",
        "flat_tree",
        "flexible_tree",
        "frameless_saddle",
        "panelled_saddle",
        "rocked_tree",
        "rocking_strip",
    ]


@pytest.mark.parametrize("name", NAMES)
def test_every_example_has_an_answer(name):
    out = result(json.dumps(example(name)))
    assert out["title"] == example(name)["title"]
    for case in out["cases"]:
        assert case["convergence"]["residual"] < 1e-9
        assert number(case, "load") > 0
    json.dumps(out, allow_nan=False)


def test_bar_that_does_not_come_back_presses_its_own_side():
    even, uneven = example("flexible_tree"), example("flexible_tree")
    del even["tree"]["bars"]["right"]["set_rock_m"]
    peaks = [
        number(result(json.dumps(data))["cases"][0], "peak_pressure", side="right")
        for data in (even, uneven)
    ]
    assert peaks[1] > 1.05 * peaks[0]


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        ("tree.bars.left.bending_stiffness_nm2", 0, "must be above 0"),
        ("tree.bars.left.bending_stiffness_nm2", ..., "is missing"),
        ("tree.cantle_from_tip_m", 0.05, "behind the fork"),
        ("tree.cantle_from_tip_m", 0.60, "on the bars"),
    ],
)
def test_field_of_a_bending_tree_is_named_when_it_is_bad(path, value, words):
    with pytest.raises(CaseFileError, match=words) as caught:
        result(changed("flexible_tree", path, value))
    assert caught.value.path == path


def test_rocking_strip_gives_its_closed_form():
    """Turns by e/R = 0.04 rad and peaks at 9 654.894 Pa (derived; elastic foundation)."""
    case = result(json.dumps(example("rocking_strip")))["cases"][0]
    assert case["pose"]["pitch_rad"] == pytest.approx(0.04, rel=1e-3)
    assert number(case, "peak_pressure") == pytest.approx(9654.894, rel=2e-3)
    further = changed("rocking_strip", "load.forces.0.point_m", [0.03, 0, 0])
    assert result(further)["cases"][0]["pose"]["pitch_rad"] == pytest.approx(0.02, rel=1e-3)


def test_flat_tree_bridges_and_rocked_tree_does_not():
    gaps = {}
    for name in ("flat_tree", "rocked_tree"):
        cases = {c["name"]: c for c in result(json.dumps(example(name)))["cases"]}
        gaps[name] = number(cases["saddle_only"], "bridge_gap", side="left")
    assert gaps["flat_tree"] > 0.008
    assert gaps["rocked_tree"] == 0.0


def test_old_files_mean_what_they_meant_and_new_ones_get_every_case():
    """Files from before there were more load cases name theirs; a file that names none has all."""
    named = [case["name"] for case in result(json.dumps(example("flat_tree")))["cases"]]
    assert named == ["standing", "rider_left", "rider_right", "saddle_only"]
    every = case_inputs(load_case_file(changed("flat_tree", "load_cases", ...))).cases
    assert every == cases_for()
    roped = changed("flat_tree", "load.rope", {"pull_n": 500, "horn_x_m": 0.1})
    inputs = case_inputs(
        load_case_file(json.dumps({**json.loads(roped), "load_cases": ["rope_rear"]}))
    )
    assert (inputs.loads.rope_pull, inputs.loads.horn) == (500, 0.1)
    without = json.loads(roped)
    del without["load_cases"]
    assert case_inputs(load_case_file(json.dumps(without))).cases == cases_for("rope")


def test_schema_names_every_built_in_case_and_group_of_findings():
    case = validator().schema["$defs"]["load_case"]
    assert case["then"]["enum"] == [case.name for case in LOAD_CASES]
    groups = {group for case in LOAD_CASES for group in case.feeds}
    assert set(case["else"]["properties"]["feeds"]["items"]["enum"]) == groups


def test_case_of_ones_own_is_the_built_in_one_in_other_words():
    own = [
        {"name": "left", "back": {"bend_deg": -8}, "feeds": ["moved", "ends"]},
        {"name": "pull", "rope": {"heading_deg": 0, "dip_deg": 20}},
        {"name": "foot", "has_rider": False, "hangs_m": -0.10},
        {"name": "stride", "factor": 1.23},
        {"name": "up", "back": {"lift_m": 0.02}},
    ]
    built_in = ["bend_left", "rope_forward", "mounting", "ridden_walk", "rounded"]
    cases = result(changed("rocked_tree", "load_cases", [*own, *built_in]))["cases"]
    for mine, theirs in zip(cases[:5], cases[5:], strict=True):
        assert mine["pose"] == pytest.approx(theirs["pose"], abs=1e-9), mine["name"]
    assert cases[0]["pose"] != pytest.approx(cases[4]["pose"], abs=1e-3)


def test_moments_press_the_rear_and_the_left():
    level = changed("explicit_grids", "load.moments_nm", {})
    rear = changed("explicit_grids", "load.moments_nm", {"pitch": 8})
    left = changed("explicit_grids", "load.moments_nm", {"roll": 8})
    cases = [result(text)["cases"][0] for text in (level, rear, left)]
    assert number(cases[1], "share", "caudal") > number(cases[0], "share", "caudal") + 0.005
    assert number(cases[2], "share", side="left") > number(cases[0], "share", side="left") + 0.005


def test_straps_add_their_resultant():
    """2 T cos g for two straps: 231.8222 N at 120 N and 15 degrees (statics)."""
    straps = [{"tension_n": 120, "angle_deg": 15, "x_m": 0.25}]
    with_straps = result(changed("explicit_grids", "load.straps", straps))["cases"][0]
    without = result(changed("explicit_grids", "load.straps", []))["cases"][0]
    added = number(with_straps, "load") - number(without, "load")
    assert added == pytest.approx(231.8222, abs=1e-3)


def test_stiffening_layer_gives_another_answer_than_linear():
    linear = {"law": "linear", "modulus_pa_per_m": 1.5e6}
    soft = result(changed("explicit_grids", "layers.pad", linear))["cases"][0]
    stiff = result(json.dumps(example("explicit_grids")))["cases"][0]
    assert soft["pose"]["heave_m"] != pytest.approx(stiff["pose"]["heave_m"], rel=1e-3)


def test_pressure_comes_bar_by_bar_when_asked():
    text = json.dumps(example("rocking_strip"))
    out = result(text, with_pressure=True)
    pressure = out["cases"][0]["pressure_pa"]
    assert len(pressure["left"]) == len(out["grid"]["x_m"]) == 80
    assert len(pressure["right"][0]) == len(out["grid"]["y_m"]) == 4
    assert "pressure_pa" not in result(text)["cases"][0]


MALFORMED = [
    ("rocked_tree", "tree.bars.left.length_m", -1, "tree.bars.left.length_m"),
    ("rocked_tree", "tree.bars.left.length_m", ..., "tree.bars.left.length_m"),
    ("rocked_tree", "tree.bars.left.length_m", "21 in", "tree.bars.left.length_m"),
    ("rocked_tree", "tree.bars.right.lenght_m", 0.5, "tree.bars.right.lenght_m"),
    ("rocked_tree", "tree.bars.right.bearing_length_m", 2.0, "tree.bars.right.bearing_length_m"),
    ("rocked_tree", "tree.kind", "hammock", "tree.kind"),
    ("rocked_tree", "format", "backledger.case/9", "format"),
    ("rocked_tree", "back.stations.1.left.depths_m", [0, 0.1], "back.stations.1.left.depths_m"),
    ("rocked_tree", "back.stations.1.left.depths_m", [0, 0.1, 0.15], "back.stations.1.left"),
    ("rocked_tree", "back.left_line", ..., "back.left_line"),
    ("rocked_tree", "load_cases.0", "gallop", "load_cases.0"),
    ("rocked_tree", "layers.tissue.law", "springy", "layers.tissue.law"),
    ("rocked_tree", "layers.tissue", {"law": "linear"}, "layers.tissue.modulus_pa_per_m"),
    ("rocked_tree", "placement.tip_m", 3.0, "placement.tip_m"),
    ("rocked_tree", "load.girth.tension_n", -5, "load.girth.tension_n"),
    ("panelled_saddle", "tree.panels.left.width_rear_m", 0, "tree.panels.left.width_rear_m"),
    ("rocking_strip", "tree.left_mask.3", [1, 1, 2, 1], "tree.left_mask.3.2"),
    ("rocking_strip", "tree.left_m.3", [0, 0], "tree.left_m"),
    ("rocking_strip", "back.x_m.5", 9.0, "back.x_m"),
    ("rocking_strip", "load.forces.0.point_m", [0, 0], "load.forces.0.point_m"),
]


@pytest.mark.parametrize(("name", "path", "value", "field"), MALFORMED)
def test_malformed_field_is_named(name, path, value, field):
    with pytest.raises(CaseFileError) as caught:
        result(changed(name, path, value))
    assert caught.value.path == field
    assert str(caught.value).startswith(field)


@pytest.mark.parametrize("text", ["", "{", "[]", '{"format": NaN}', "null", '"text"'])
def test_what_is_no_case_at_all_is_refused(text):
    with pytest.raises(CaseFileError):
        load_case_file(text)


def test_load_beside_the_tree_is_refused():
    with pytest.raises(NoBalance, match="outside the support"):
        result(changed("rocking_strip", "load.forces.0.point_m", [0.5, 0, 0]))


def test_file_and_engine_call_agree():
    data = load_case_file(json.dumps(example("rocked_tree")))
    called = evaluate_fit(case_inputs(data)).case("standing").value("share", "middle")
    filed = number(result(json.dumps(data))["cases"][0], "share", "middle")
    assert called == filed


# -- The command


def test_command_reads_standard_input(monkeypatch):
    monkeypatch.setattr(sys, "stdin", io.StringIO(json.dumps(example("rocking_strip"))))
    out = io.StringIO()
    call_command("fit-case", "-", stdout=out)
    assert json.loads(out.getvalue())["format"] == "backledger.result/1"


@pytest.mark.parametrize(
    ("path", "value", "code", "words"),
    [
        ("tree.x_m", ..., 2, "tree.x_m: is missing"),
        ("load.forces.0.point_m", [0.5, 0, 0], 3, "outside the support"),
    ],
)
def test_command_fails_with_its_code(tmp_path, path, value, code, words):
    file = tmp_path / "case.json"
    file.write_text(changed("rocking_strip", path, value), encoding="utf-8")
    with pytest.raises(CommandError, match=words) as caught:
        call_command("fit-case", str(file), stdout=io.StringIO())
    assert caught.value.returncode == code


def test_command_says_that_a_file_is_not_there():
    with pytest.raises(CommandError, match="cannot read") as caught:
        call_command("fit-case", "nowhere.json")
    assert caught.value.returncode == 2


def test_shell_sees_the_exit_codes_without_any_install(tmp_path):
    """From a terminal, on a machine that holds no practice: 0 and JSON, or 2 and the field."""
    kept = {"PATH", "HOME", "LANG", "SYSTEMROOT", "VIRTUAL_ENV"}
    clean = {name: value for name, value in os.environ.items() if name in kept}
    clean["DATA_DIR"] = str(tmp_path)

    def run(text: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "manage.py", "fit-case", "-"],
            input=text,
            capture_output=True,
            text=True,
            cwd=ROOT,
            env=clean,
            check=False,
        )

    good = run(json.dumps(example("rocking_strip")))
    assert good.returncode == 0, good.stderr
    assert json.loads(good.stdout)["cases"]
    bad = run(changed("rocking_strip", "tree.left_m", ...))
    assert bad.returncode == 2
    assert "tree.left_m" in bad.stderr
    assert bad.stdout == ""


def test_result_names_what_the_model_leaves_out():
    assert result(json.dumps(example("rocking_strip")))["limits"] == [one.title for one in LIMITS]


def test_about_says_limits_and_defaults_without_a_file():
    out = io.StringIO()
    call_command("fit-case", "--about", stdout=out)
    told = json.loads(out.getvalue())
    assert len(told["limits"]) == len(LIMITS)
    back = next(row for row in told["defaults"] if row["what"].startswith("Give of the back"))
    stiffness = default_layers(pad_thickness=0.0).tissue.modulus_per_area
    assert back["taken"] == f"{stiffness / 1e6:.2f} kPa/mm"
    assert "Isogai" in back["why"]


def test_without_file_or_about_it_asks_for_one():
    with pytest.raises(CommandError, match="Give a case file") as caught:
        call_command("fit-case")
    assert caught.value.returncode == 2


def test_answer_holds_the_room_left_other_places_and_a_suggestion():
    flat, rocked = (result(json.dumps(example(name))) for name in ("flat_tree", "rocked_tree"))
    bends = [
        {a["side"]: a["value"] for a in out["allowances"] if a["code"] == "bend"}
        for out in (flat, rocked)
    ]
    assert bends[1]["left"] > bends[0]["left"] == 0.0
    assert flat["suggestion"]["word"] == "not_this_saddle"
    assert rocked["suggestion"]["word"] == "carry_on"
    places = rocked["placement"]
    assert sum(place["settles"] for place in places) == 1
    assert {"code", "level", "value"} == set(places[0]["findings"][0])
