"""A routine's own id: what was practised hangs on it, wherever the folder lies."""

from dataclasses import replace

from rehearse.routine.folder import open_folder, save_folder, save_routine
from rehearse.routine.model import Routine


def written(folder):
    return (folder / "routine.yaml").read_text()


def without_id(folder):
    lines = [x for x in written(folder).splitlines() if not x.startswith("id:")]
    (folder / "routine.yaml").write_text("\n".join(lines) + "\n")


def test_it_is_written_at_the_next_save_and_stays(tmp_path, routine, song):
    folder = tmp_path / "one"
    save_folder(folder, routine, song)
    (folder / routine.track).touch()
    without_id(folder)
    first = open_folder(folder).routine
    assert len(first.id) == 16
    assert "\nid:" not in written(folder), "looking changes nothing"
    assert open_folder(folder).routine.id == first.id, "the same as long as nothing is saved"
    save_routine(folder, replace(first, title="Another name", poses=first.poses[1:]))
    assert f"\nid: {first.id}\n" in written(folder).replace("'", "").replace('"', "")
    assert open_folder(folder).routine.id == first.id


def test_two_routines_of_one_song_have_two(tmp_path, routine, song):
    ids = set()
    for name, poses in (("one", routine.poses), ("two", routine.poses[1:])):
        save_folder(tmp_path / name, replace(routine, poses=poses), song)
        ids.add(open_folder(tmp_path / name).routine.id)
    assert len(ids) == 2


def test_it_is_no_change_of_the_routine():
    assert Routine("t", "t.ogg", id="a") == Routine("t", "t.ogg", id="b")
