"""Data classes made while the window starts are the same as ever, and quick the second time."""

import dataclasses
import gc
import sys

import pytest

from rehearse.files import quick_start

MADE = """
@dataclasses.dataclass(frozen=True, order=True)
class Place:
    name: str
    counts: tuple[int, ...] = ()
    parts: list[int] = dataclasses.field(default_factory=list, compare=False)
"""


@pytest.fixture(autouse=True)
def kept_in(tmp_path, monkeypatch):
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    monkeypatch.setattr(sys, "pycache_prefix", str(tmp_path))
    was_enabled = gc.isenabled()
    yield tmp_path
    quick_start.end()
    if was_enabled:
        gc.enable()


def made(text=MADE):
    names = {"dataclasses": dataclasses}
    exec(text, names)
    return names["Place"]


def behaves(place):
    one = place("left", (1, 2))
    assert one == place("left", (1, 2), [3])
    assert hash(one) == hash(place("left", (1, 2)))
    assert repr(one) == "Place(name='left', counts=(1, 2), parts=[])"
    assert one < place("right")
    assert one.parts is not place("left").parts
    with pytest.raises(dataclasses.FrozenInstanceError):
        one.name = "right"


def test_classes_are_as_ever_and_their_methods_are_kept(kept_in, monkeypatch):
    quick_start.begin()
    behaves(made())
    quick_start.end()
    [kept] = kept_in.rglob("quick_start*.data")
    assert not hasattr(dataclasses, "exec")
    quick_start.begin()
    monkeypatch.setattr(
        quick_start, "compile", lambda *_: pytest.fail("it was kept"), raising=False
    )
    behaves(made())
    monkeypatch.undo()
    assert kept.exists()


def test_a_changed_class_is_made_anew(kept_in):
    quick_start.begin()
    made()
    quick_start.end()
    quick_start.begin()
    changed = made(MADE.replace("counts: tuple[int, ...] = ()", "count: int = 7"))
    assert changed("left").count == 7
    assert repr(changed("left")) == "Place(name='left', count=7, parts=[])"


@pytest.mark.parametrize("damage", [b"", b"no code", b"[\x00\x00\x00\x00"])
def test_what_is_kept_and_damaged_is_made_anew(kept_in, damage):
    quick_start.begin()
    made()
    quick_start.end()
    [kept] = kept_in.rglob("quick_start*.data")
    kept.write_bytes(damage)
    quick_start.begin()
    behaves(made())
    quick_start.end()
    assert len(kept.read_bytes()) > 1000


def test_nothing_is_kept_where_python_keeps_no_byte_code(kept_in, monkeypatch):
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    quick_start.begin()
    behaves(made())
    quick_start.end()
    assert not [*kept_in.rglob("*.data")]
