"""A fault of the program itself: told as one, and never taken for an answer."""

import pytest

from daemon import __main__


@pytest.mark.parametrize("error", [ZeroDivisionError("0"), ExceptionGroup("g", [KeyError("k")])])
def test_a_fault_of_the_program_is_not_the_answer_no(
    error: Exception, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def breaks(*_: object, **__: object) -> int:
        raise error

    monkeypatch.setattr(__main__, "app", breaks)
    assert __main__.main([]) == 3
    told = capsys.readouterr().err
    assert type(error).__name__ in told, "who mends it needs the lines"
    assert "a fault of the program, not of yours" in told
