"""What plays for a page: another tempo under way, another page's music, the stop."""

import shutil
from pathlib import Path

from rehearse.ui.film.film_music import FilmMusic

DEMO = Path(__file__).resolve().parents[2] / "demo" / "copper-lights"


def test_it_plays_on_at_another_tempo_and_gives_way(qtbot, workspace, tmp_path):
    workspace.settings.put("silent", True)
    workspace.player.silent = True
    assert workspace.open(Path(shutil.copytree(DEMO, tmp_path / "routine")))
    qtbot.waitUntil(lambda: workspace.track is not None, timeout=120_000)
    music, other = FilmMusic(workspace, 10.0, 40.0), FilmMusic(workspace, 0.0, 5.0)
    music.toggle()
    qtbot.waitUntil(lambda: music.second > 10.05, timeout=120_000)
    music.set_tempo(0.7)
    music.go(20.0)
    qtbot.waitUntil(lambda: music.second > 20.1, timeout=120_000)
    assert music.on
    other.toggle()
    assert other.on
    assert not music.on
    workspace.stopAsked.emit()
    assert not other.on
