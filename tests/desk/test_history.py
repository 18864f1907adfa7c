"""Undo and redo over plain values."""

from hypothesis import given
from hypothesis import strategies as st

from measure.desk.state.history import History


def test_undo_and_redo_walk_through_all_states() -> None:
    history = History((0,))
    for value in range(1, 500):
        history = history.push(value, f"step {value}")
    while history.undo_name is not None:
        history = history.undo()
    assert (history.present, history.undo_name, history.redo_name) == (0, None, "step 1")
    while history.redo_name is not None:
        history = history.redo()
    assert (history.present, history.redo_name) == (499, None)


def test_a_new_state_drops_what_was_undone() -> None:
    history = History(("a",)).push("b", "to b").undo().push("c", "to c")
    assert history.redo() is not history
    assert history.redo().present == "c"
    assert history.states == ("a", "c")


def test_quick_nudges_of_one_point_are_one_step_back() -> None:
    history, at_s = History((0,)), 0.0
    for value in (1, 2, 3):
        at_s += 0.2
        history = history.push(value, "move", join="m1", at_s=at_s)
    history = history.push(4, "move", join="m1", at_s=at_s + 60.0).undo()
    assert history.present == 3
    assert history.undo().present == 0


def test_what_the_desk_learns_is_not_undone() -> None:
    history = History(((0, "?"),)).push((1, "?"), "count")
    assert history.amend(lambda state: (state[0], "known")).undo().present == (0, "known")


def test_a_change_leaves_the_history_before_it_as_it_was() -> None:
    history = History((0,)).push(1, "one")
    history.push(2, "two").amend(lambda value: -value).undo()
    assert (history.present, history.undo_name, history.redo_name) == (1, "one", None)


@given(st.lists(st.sampled_from(["push", "undo", "redo"]), max_size=60))
def test_it_behaves_like_a_list_and_a_place_in_it(steps: list[str]) -> None:
    history, model, place = History((0,)), [0], 0
    for number, step in enumerate(steps, 1):
        if step == "push":
            model, place = [*model[: place + 1], number], place + 1
            history = history.push(number, "x")
        elif step == "undo":
            place = max(0, place - 1)
            history = history.undo()
        else:
            place = min(len(model) - 1, place + 1)
            history = history.redo()
        assert history.present == model[place]
