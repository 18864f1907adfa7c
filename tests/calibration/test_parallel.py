"""Independent work on several processors: the results are those of doing one after the other."""

import threading

import pytest

from calibration import parallel as module
from calibration.parallel import run_in_parallel


@pytest.fixture(params=[1, 2, 4])
def processors(request, monkeypatch):
    module._helpers.cache_clear()
    monkeypatch.setattr(module, "_processors", lambda: request.param)
    yield request.param
    module._helpers.cache_clear()


def test_results_come_in_the_order_of_the_tasks(processors):
    assert run_in_parallel(*(lambda k=k: k * k for k in range(7))) == [k * k for k in range(7)]


def test_tasks_may_themselves_share_out_work(processors):
    def inner(k):
        return sum(run_in_parallel(*(lambda j=j: 10 * k + j for j in range(3))))

    assert run_in_parallel(*(lambda k=k: inner(k) for k in range(5))) == [30 * k + 3 for k in range(5)]


def test_an_error_in_a_task_reaches_the_caller(processors):
    def fail():
        raise ValueError("no edge")

    with pytest.raises(ValueError, match="no edge"):
        run_in_parallel(lambda: 1, fail)


def test_one_processor_starts_no_threads(monkeypatch):
    module._helpers.cache_clear()
    monkeypatch.setattr(module, "_processors", lambda: 1)
    before = threading.active_count()
    run_in_parallel(lambda: 1, lambda: 2)
    assert threading.active_count() == before
    module._helpers.cache_clear()
