"""Attempts as a series: fibre, gel, blade, glass."""

from eavelight.diagnosis.attempts import notes_of, series_of
from eavelight.diagnosis.diagnose import diagnose

SPLICE = "pigtail splice"


def attempts(bench, estimates, cleaves):
    for number, (estimate, angle) in enumerate(zip(estimates, cleaves, strict=True), 1):
        bench.read("cleave_angle", SPLICE, angle, u=0.1, attempt=number, end="cable")
        bench.read("splice_estimate", SPLICE, estimate, u=0.02, attempt=number)


def actions(bench):
    return [item.action for item in diagnose(bench.case()).advice]


def test_estimates_that_repeat_say_do_not_splice_again(bench):
    attempts(bench, [0.14, 0.15, 0.14], [0.3, 0.4, 0.3])
    bench.losses()
    assert series_of(bench.case())[0].repeats
    assert actions(bench)[0] == "read-both-ways"
    assert "re-splice" not in actions(bench)


def test_estimates_that_jump_ask_for_a_clean_groove(bench):
    attempts(bench, [0.32, 0.05, 0.21], [0.3, 0.4, 0.3])
    assert series_of(bench.case())[0].jumps
    assert "clean-groove" in actions(bench)


def test_angles_that_grow_ask_for_the_blade(bench):
    attempts(bench, [0.04, 0.05, 0.06], [0.4, 0.8, 1.3])
    assert "new-blade" in actions(bench)


def test_glass_used_is_told_before_it_is_gone(bench):
    attempts(bench, [0.3, 0.2, 0.1], [0.3, 0.3, 0.3])
    assert "diagnosis.series.glass" in [note.id for note in notes_of(bench.case())]


def test_one_way_step_that_explains_itself_keeps_the_splice(bench):
    bench.read("splice_loss", SPLICE, 0.33, wavelength_nm=1550, direction="toward port")
    bench.read(
        "splice_loss", SPLICE, -0.25, wavelength_nm=1550, direction="toward terminal"
    )
    assert actions(bench)[0] == "keep-splice"
    assert diagnose(bench.case()).causes[0].cause == "none"


def test_one_bad_attempt_is_no_series(bench):
    attempts(bench, [0.14], [0.3])
    assert not series_of(bench.case())[0].repeats
