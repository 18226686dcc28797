"""An interrupt is not lost in a callback of the compiler, and comes all the same."""

import signal
import time

import pytest

from bowfem.processes import interrupt_outside_callbacks


@pytest.fixture
def handler():
    before = signal.getsignal(signal.SIGINT)
    interrupt_outside_callbacks()
    yield
    signal.signal(signal.SIGINT, before)


def test_an_interrupt_comes_at_once(handler):
    with pytest.raises(KeyboardInterrupt):
        signal.raise_signal(signal.SIGINT)


def test_an_interrupt_in_a_callback_comes_after_it(handler):
    text = "import signal\nsignal.raise_signal(signal.SIGINT)\nover = True\n"
    names = {}
    exec(compile(text, "site-packages/llvmlite/binding/executionengine.py", "exec"), names)
    assert names["over"]
    begin = time.monotonic()
    with pytest.raises(KeyboardInterrupt):
        time.sleep(5.0)
    assert time.monotonic() - begin < 4.0
