"""Settings of this machine: a damaged file costs the settings, never the rehearsal."""

from __future__ import annotations

import math

import pytest

from rehearse.ui.settings import Settings


@pytest.mark.parametrize("value", ["nan", "inf", "1e400", "x", "@ByteArray(x)", "5", "@Invalid()"])
def test_a_damaged_setting_is_its_first_value(qapp, tmp_path, value):
    path = tmp_path / "settings.ini"
    path.write_text(f"[General]\ngeometry={value}\ndistance_m={value}\nvolume_music={value}\n")
    settings = Settings(path)
    assert isinstance(settings.get("geometry"), bytes)
    assert len(settings.get("geometry")) < 10
    for name in ("distance_m", "volume_music"):
        assert math.isfinite(settings.get(name))
