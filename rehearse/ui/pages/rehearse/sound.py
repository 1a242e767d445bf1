"""The voice and what it says, as set on this machine."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rehearse.cueing.levels import Levels, Loudness
from rehearse.files.fault import Fault
from rehearse.ui.desk import Desk
from rehearse.ui.settings import Settings

if TYPE_CHECKING:
    from rehearse.cueing.speech import SpeechChoice
    from rehearse.cueing.voice import Speaker


def speech_choice(settings: Settings) -> SpeechChoice:
    """What is said and how loud."""
    from rehearse.cueing.choice import SAID
    from rehearse.cueing.speech import SpeechChoice

    levels = Levels(*(Loudness(settings.get(f"say_{k}")) for k in ("names", "counts", "clicks")))
    said = settings.get("say_moves")
    return SpeechChoice(
        levels=levels,
        turns=settings.get("say_turns"),
        said=said if said in SAID else "both",
    )


def speaker_for(desk: Desk, *, waits: bool = True) -> Speaker | None:
    """The voice set, its texts kept between starts; None (and one sentence) when it fails.

    `waits`: see `Speaker`.

    Own recordings in the routine's folder are used before the voice.
    """
    from rehearse.cueing.voice import Speaker, VoiceSetting
    from rehearse.cueing.voice.recordings import FOLDER
    from rehearse.cueing.voice.store import default_store

    settings = desk.settings
    setting = VoiceSetting()
    if settings.get("voice"):
        setting = VoiceSetting(settings.get("voice"))
    recordings = desk.folder / FOLDER if desk.folder else None
    try:
        return Speaker(setting, kept=default_store(), recordings=recordings, waits=waits)
    except Fault as fault:
        desk.faultRaised.emit(f"{fault.sentence} The drill goes on with clicks.")
        return None
