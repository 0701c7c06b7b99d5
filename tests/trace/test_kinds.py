"""Names of events."""

from eavelight.trace.kinds import event_kind, is_echo


def kind(loss_db: float | None, *, reflective: bool = False, nm: float = 1550.0) -> str:
    return event_kind(loss_db, loss_u_db=0.02, reflective=reflective, wavelength_nm=nm)


def test_a_peak_is_a_connector_whatever_it_loses() -> None:
    assert kind(0.3, reflective=True) == "connector"
    assert kind(None, reflective=True) == "connector"


def test_a_small_step_either_way_is_a_splice() -> None:
    assert kind(0.1) == kind(-0.3) == "splice"


def test_a_large_step_is_a_bend_only_where_bends_are_seen() -> None:
    assert kind(1.0) == "bend"
    assert kind(1.0, nm=1310.0) == "unknown"


def test_three_decibels_and_more_are_a_splitter() -> None:
    assert kind(3.6) == "splitter"
    assert kind(16.5, reflective=True) == "splitter"


def test_an_unmeasured_step_has_no_name() -> None:
    assert kind(None) == "unknown"


def test_an_echo_needs_two_reflectors_before_it() -> None:
    assert is_echo(200.0, [0.0, 100.0], tolerance_m=1.0)
    assert not is_echo(200.0, [100.0], tolerance_m=1.0)
    assert not is_echo(150.0, [0.0, 100.0], tolerance_m=1.0)
