"""Which files a dialog offers as songs; any other can be chosen too."""

SONGS = (
    "Songs (*.mp3 *.m4a *.aac *.mp4 *.m4b *.3gp *.amr *.wav *.flac *.ogg *.oga *.opus *.aiff *.aif"
    " *.aifc *.caf *.wma *.webm *.mka *.mkv *.mov);;All files (*)"
)
