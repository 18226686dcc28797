"""What goes wrong around a command: full disks, closed streams, pipes, spoilt caches, nonsense."""

import os
import pickle
import stat
import subprocess
import sys
import threading
from types import SimpleNamespace

import pytest

from bowfem._kernels import compiled
from bowfem.cli.main import main
from bowfem.design import Design
from bowfem.errors import DesignError, InputError
from bowfem.files import write_whole


def run(root, words, **given):
    command = [sys.executable, "-m", "bowfem", *words]
    return subprocess.run(command, cwd=root, stderr=subprocess.PIPE, text=True, **given)


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no such device here")
def test_a_full_disk_at_the_output_is_one_line(root):
    with open("/dev/full", "w") as full:
        done = run(root, ["pipes"], stdout=full)
    assert done.returncode == 5
    assert done.stderr.startswith("bowfem: the output could not be written")
    assert done.stderr.count("\n") == 1


def test_an_output_that_is_closed_ends_in_no_traceback(root):
    closed = f'exec "{sys.executable}" -m bowfem pipes >&-'
    done = subprocess.run(["sh", "-c", closed], cwd=root, stderr=subprocess.PIPE, text=True)
    assert "Traceback" not in done.stderr and done.stderr.count("\n") <= 1


def test_tables_in_tables_without_end_are_refused():
    for text in ("a = " + "[" * 3000 + "]" * 3000, "[" + ".".join("a" * 1000) + "]\nb = 1\n"):
        with pytest.raises(DesignError) as refused:
            Design.from_toml(text)
        assert refused.value.faults[0].allowed == "a plain design file"


def test_a_pipe_is_written_to_and_stays_one(tmp_path):
    place, read = tmp_path / "pipe", []
    os.mkfifo(place)
    reader = threading.Thread(target=lambda: read.append(place.read_bytes()))
    reader.start()
    write_whole(place, b"told", "--json")
    reader.join(10.0)
    assert read == [b"told"] and stat.S_ISFIFO(place.stat().st_mode)


def test_drafts_left_by_others_are_in_nobody_s_way(tmp_path):
    place = tmp_path / "walk.json"
    for name in (f".walk.json.{os.getpid()}.part", ".walk.json.1.part"):
        (tmp_path / name).write_text("left")
    write_whole(place, b"told", "--json")
    assert place.read_bytes() == b"told"
    place.chmod(0o600)
    write_whole(place, b"again", "--json")
    assert stat.S_IMODE(place.stat().st_mode) == 0o600
    with pytest.raises(InputError):
        write_whole(tmp_path / "no" / "walk.json", b"told", "--json")
    assert [each.name for each in tmp_path.glob("*.json")] == ["walk.json"]


def test_more_marks_than_any_bow_has_are_refused(wagtail_text):
    many = ",\n".join(f'{{ at = "{3 + 0.2 * i} in", thickness = "0.5 in" }}' for i in range(60))
    with pytest.raises(DesignError) as refused:
        Design.from_toml(wagtail_text.partition("[limb]")[0] + f"[limb]\nmarks = [{many}]\n")
    assert "at most 40" in refused.value.faults[0].allowed


@pytest.fixture
def wagtail_text(root):
    return (root / "examples/designs/wagtail.toml").read_text()


@pytest.mark.parametrize("name", ["@about@", "@packed@ @name@", "$x_1$", "\\\\frac"])
def test_names_are_told_as_they_are(root, tmp_path, wagtail_text, name):
    file, page = tmp_path / "odd.toml", tmp_path / "odd.html"
    lines = [f"name = '{name}'" if x.startswith("name") else x for x in wagtail_text.splitlines()]
    file.write_text("\n".join(lines))
    assert main(["view", str(file), "--web", str(page)]) == 0
    text = page.read_text()
    assert len(text) < 3_000_000 and name in text
    assert main(["draw", str(file), "--out", str(tmp_path)]) == 0


class Spoilt(SimpleNamespace):
    """A compiler whose cache is spoilt until it is thrown away, or cannot be written."""

    def compile(self, args):
        self.tries += 1
        if self.tries == 1 and self.error is not None:
            if isinstance(self.error, OSError):
                self.overloads[tuple(args)] = SimpleNamespace(entry_point="made")
            raise self.error
        return "made"


def test_a_spoilt_cache_is_made_anew(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(compiled, "FOLDER", tmp_path)
    compiled._throw_away.cache_clear()
    kept = tmp_path / "one" / "walk.nbi"
    kept.parent.mkdir()
    kept.write_bytes(b"nonsense")
    garbled = pickle.UnpicklingError("nonsense")
    monkeypatch.setattr(compiled, "_from_cache", lambda error: error is garbled)
    made = Spoilt(tries=0, overloads={}, error=garbled)
    assert compiled._forgiving(made)(()) == "made"
    assert not kept.exists()
    assert "spoilt" in capsys.readouterr().err
    # with nothing to throw away it is another fault, and told
    compiled._throw_away.cache_clear()
    made = Spoilt(tries=0, overloads={}, error=ValueError("something else"))
    with pytest.raises(ValueError, match="something else"):
        compiled._forgiving(made)(())
    compiled._throw_away.cache_clear()


def test_a_cache_that_cannot_be_written_is_done_without(capsys):
    made = Spoilt(tries=0, overloads={}, error=OSError(28, "No space left on device"))
    assert compiled._forgiving(made)(()) == "made"
    assert "could not be kept (No space left on device)" in capsys.readouterr().err


def test_a_user_without_a_home_still_has_a_folder(root, tmp_path):
    code = (
        "import os, pathlib\n"
        "pathlib.Path.home = classmethod(lambda cls: (_ for _ in ()).throw(RuntimeError('none')))\n"
        "os.access = lambda *a, **k: False\n"
        "from bowfem._kernels import FOLDER\n"
        "print(FOLDER)\n"
    )
    env = {k: v for k, v in os.environ.items() if k not in ("NUMBA_CACHE_DIR", "XDG_CACHE_HOME")}
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=root, env=env, capture_output=True, text=True
    )
    assert done.returncode == 0 and "kernels-" in done.stdout
