"""Every file of `broken_designs` gives exactly the faults its last lines expect."""

import os
import pickle
from pathlib import Path

import pytest

from bowfem.design import Design
from bowfem.errors import BowfemError, ConvergenceError, DesignError, Fault, InputError

BROKEN = sorted((Path(__file__).parents[2] / "broken_designs").glob("*.toml"))
EXAMPLE = Path(__file__).parents[3] / "examples" / "designs" / "curlew.toml"


@pytest.mark.parametrize("path", BROKEN, ids=lambda path: path.stem)
def test_faults_name_key_value_and_range(path: Path) -> None:
    mark = "# expected: "
    lines = path.read_text(encoding="utf-8").splitlines()
    expected = [line.removeprefix(mark) for line in lines if line.startswith(mark)]
    with pytest.raises(DesignError) as caught:
        Design.from_file(path)
    assert sorted(map(str, caught.value.faults)) == sorted(expected)
    message = str(caught.value)
    assert message.startswith(f"{path}: {len(expected)} fault")
    assert all(f"\n  {line}" in message for line in expected)


def test_there_are_broken_designs() -> None:
    assert len(BROKEN) >= 60


@pytest.mark.parametrize(
    ("key", "limit"),
    [
        ("limb.marks.2.thickness", "0.246 in"),
        ("limb.marks.2.thickness", "6.2484 mm"),
        ("limb.marks.3.at", "27 in"),
        ("limb.marks.3.at", "685.8 mm"),
        ("nock.inset", "6 in"),
        ("nock.inset", "0.1 in"),
        ("limb.bends.1.from", "22.222 in"),
        ("pipe.cut_length", "12 ft"),
    ],
)
def test_a_limit_as_printed_is_accepted(key: str, limit: str) -> None:
    design = Design.from_file(EXAMPLE)
    if key == "pipe.cut_length":
        design = design.with_value("limb.bends.1.from", "22 in")
    design.with_value(key, limit)


def test_nothing_readable_is_one_clear_error(tmp_path: Path) -> None:
    binary = tmp_path / "binary.toml"
    binary.write_bytes(b"name = \xff\xfe\x00")
    large = tmp_path / "large.toml"
    large.write_bytes(b"#" * 1_000_001)
    for path, allowed in [
        (tmp_path / "none.toml", "a readable file (No such file or directory)"),
        (tmp_path, "a readable file (Is a directory)"),
        (binary, "UTF-8 text (byte 7 is not)"),
        (large, "a text of at most 1000000 bytes"),
        (Path("a\0b"), "a readable file (embedded null byte)"),
    ]:
        with pytest.raises(InputError) as caught:
            Design.from_file(path)
        assert caught.value.allowed == allowed
        assert caught.value.value == repr(os.fspath(path))


def test_writing_leaves_the_old_file_when_it_fails(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    design = Design.from_file(EXAMPLE)
    target = tmp_path / "bow.toml"
    target.write_text("before")

    def full(fd: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(InputError, match="a place to write to \\(No space left on device\\)"):
        design.to_file(target)
    assert target.read_text() == "before"
    assert list(tmp_path.iterdir()) == [target]
    monkeypatch.undo()
    design.to_file(target)
    assert Design.from_file(target) == design
    assert list(tmp_path.iterdir()) == [target]


def test_no_place_to_write_to(tmp_path: Path) -> None:
    design = Design.from_file(EXAMPLE)
    for path in (tmp_path, tmp_path / "none" / "bow.toml"):
        with pytest.raises(InputError, match="a place to write to"):
            design.to_file(path)


def test_a_byte_order_mark_and_windows_lines_are_read(tmp_path: Path) -> None:
    text = EXAMPLE.read_text(encoding="utf-8").replace("\n", "\r\n")
    path = tmp_path / "bow.toml"
    path.write_bytes(b"\xef\xbb\xbf" + text.encode())
    assert Design.from_file(path) == Design.from_file(EXAMPLE)


def test_hostile_text() -> None:
    for text in ("[" * 5000, "x = " + "[" * 5000, "x = " + "9" * 5000, "x = 1e999999999", "\0"):
        with pytest.raises(DesignError):
            Design.from_toml(text)


@pytest.mark.parametrize(
    "error",
    [
        InputError("wall", -1.0, "above 0"),
        DesignError("bow.toml", [Fault("a", "1", "2"), Fault("b", "3", "4")]),
        ConvergenceError("stopped", {"steps": 3}),
    ],
)
def test_errors_cross_processes(error: BowfemError) -> None:
    copy = pickle.loads(pickle.dumps(error))
    assert type(copy) is type(error)
    assert str(copy) == str(error)
    assert vars(copy) == vars(error)


def test_errors_are_of_the_built_in_kind_too() -> None:
    assert issubclass(InputError, ValueError)
    assert issubclass(DesignError, ValueError)
    assert issubclass(ConvergenceError, RuntimeError)
