"""Undo and redo over plain values."""

from hypothesis import given
from hypothesis import strategies as st

from measure.desk.changes.history import History


def test_undo_and_redo_walk_through_all_states() -> None:
    history = History(0)
    for value in range(1, 500):
        history.push(value, f"step {value}")
    while history.undo():
        pass
    assert (history.present, history.undo_name, history.redo_name) == (0, None, "step 1")
    while history.redo():
        pass
    assert (history.present, history.redo_name) == (499, None)


def test_a_new_state_drops_what_was_undone() -> None:
    history = History("a")
    history.push("b", "to b")
    history.undo()
    history.push("c", "to c")
    assert not history.redo()
    assert history.present == "c"


def test_quick_nudges_of_one_point_are_one_step_back() -> None:
    now = [0.0]
    history = History(0, clock=lambda: now[0])
    for value in (1, 2, 3):
        now[0] += 0.2
        history.push(value, "move", join="m1")
    now[0] += 60.0
    history.push(4, "move", join="m1")
    assert history.undo()
    assert history.present == 3
    assert history.undo()
    assert history.present == 0


def test_what_the_desk_learns_is_not_undone() -> None:
    history = History((0, "?"))
    history.push((1, "?"), "count")
    history.amend(lambda state: (state[0], "known"))
    history.undo()
    assert history.present == (0, "known")


@given(st.lists(st.sampled_from(["push", "undo", "redo"]), max_size=60))
def test_it_behaves_like_a_list_and_a_place_in_it(steps: list[str]) -> None:
    history, model, place = History(0), [0], 0
    for number, step in enumerate(steps, 1):
        if step == "push":
            model, place = [*model[: place + 1], number], place + 1
            history.push(number, "x")
        elif step == "undo":
            assert history.undo() == (place > 0)
            place = max(0, place - 1)
        else:
            assert history.redo() == (place + 1 < len(model))
            place = min(len(model) - 1, place + 1)
        assert history.present == model[place]
