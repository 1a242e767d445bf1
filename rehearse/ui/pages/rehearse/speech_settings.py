"""The voice and what it says, as set on this machine."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rehearse.cueing.cue_options import CueVolumes, VolumeStep
from rehearse.files.user_error import UserError
from rehearse.ui.settings import Settings
from rehearse.ui.workspace import Workspace

if TYPE_CHECKING:
    from rehearse.cueing.speech import SpeechChoice
    from rehearse.cueing.voice import SpeechEngine


def speech_choice(settings: Settings) -> SpeechChoice:
    """What is said and how loud."""
    from rehearse.cueing.cue_options import SAID
    from rehearse.cueing.speech import SpeechChoice

    levels = CueVolumes(
        *(VolumeStep(settings.get(f"say_{k}")) for k in ("names", "counts", "clicks"))
    )
    said = settings.get("say_moves")
    return SpeechChoice(
        levels=levels,
        turns=settings.get("say_turns"),
        said=said if said in SAID else "both",
    )


def speech_engine_for(workspace: Workspace, *, waits: bool = True) -> SpeechEngine | None:
    """The voice set, its texts kept between starts; None (and one sentence) when it fails.

    `waits`: see `SpeechEngine`.

    Own recordings in the routine's folder are used before the voice.
    """
    from rehearse.cueing.voice import SpeechEngine, VoiceSetting
    from rehearse.cueing.voice.recordings import FOLDER
    from rehearse.cueing.voice.speech_cache import default_store

    settings = workspace.settings
    setting = VoiceSetting()
    if settings.get("voice"):
        setting = VoiceSetting(settings.get("voice"))
    recordings = workspace.folder / FOLDER if workspace.folder else None
    try:
        return SpeechEngine(setting, kept=default_store(), recordings=recordings, waits=waits)
    except UserError as fault:
        workspace.errorRaised.emit(f"{fault.sentence} The drill continues with clicks.")
        return None
