"""The voice that says names and counts: rendered once per text, measured, kept on disk.

How a word gets onto its beat: `espeak` renders the text, `onset` trims the silence before it and
measures where its stressed syllable is heard to begin, `speech_cache` keeps the result,
`speech_engine` puts it all behind one call. Own recordings (`recordings`) stand in for any text
they are named after.
"""

from rehearse.cueing.voice.onset import Utterance
from rehearse.cueing.voice.speech_engine import Sounding, SpeechEngine, VoiceSetting, form
from rehearse.cueing.voice.voices import VOICES, VoiceChoice, default_voice, voice_of

__all__ = [
    "VOICES",
    "Sounding",
    "SpeechEngine",
    "Utterance",
    "VoiceChoice",
    "VoiceSetting",
    "default_voice",
    "form",
    "voice_of",
]
