"""Every action of the window, declared once: its words, its keys, where and when it is possible.

Menus, buttons, the key list (?), the keys that can be assigned, the clicker and the README's list
of keys are made from this table: `bindings` makes Qt's actions of it, `key_list` the lists.

A letter or a sign means one thing wherever it is bound; a test fails on two. Keys that name no
action by themselves – Space, Enter, Esc, Delete, arrows, Home and End, Page Up and Down, − and +,
Tab – do on each page what they say there: its main action, confirm, leave, delete, go, less, more.

`STOP` is obeyed in every state and in every dialogue, and so is the clicker's back button held for
a second (`stopkey`). While text is edited a typed d is text, and the stop is Ctrl+D.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from rehearse.words import _, shown

MUSIC, ROUTINE, REHEARSE, LOGBOOK = _("Music"), _("Routine"), _("Rehearse"), _("Logbook")
#: Every page of the window, but not its dialogues.
PAGES = (MUSIC, ROUTINE, REHEARSE, LOGBOOK)
_PAGE_NAMES = (_("Music page"), _("Routine page"), _("Rehearse page"), _("Logbook page"))
#: What a page is called by its key and to a screen reader; written out, since it is one word in
#: some languages.
PAGE_WORDS = dict(zip(PAGES, _PAGE_NAMES, strict=True))
#: The window without a routine, and forms with keys of their own.
START, OWN_VOICE, CUT = _("No routine open"), _("Own voice"), _("Cut the song")
FILM = _("Film of a run")
#: Every page, every state, every dialogue.
EVERYWHERE = ("everywhere",)


class When(Enum):
    """When an action is possible, in words; pressed at another time it says what is missing."""

    ALWAYS = ""
    ROUTINE = _("a routine is open")
    SONG = _("the song is read")
    MAP = _("the song has a beat map")
    CHOSEN = _("a pose or move is chosen")
    RUNNING = _("something is rehearsed")
    PLAYING = _("the music plays")
    PLAN = _("there is a plan")


@dataclass(frozen=True)
class Action:
    """One thing that can be done with a key.

    Args:
        name: in the code, in the settings; unique.
        words: for buttons, menus and the list of keys.
        keys: those it has at first, as Qt writes them; the first is the one shown.
        pages: where it works.
        tip: the whole sentence for pointer and screen reader, where the words are shorter.
        when: when it is possible. repeats: whether a held key does it again and again.
    """

    name: str
    words: str
    keys: tuple[str, ...]
    pages: tuple[str, ...] = PAGES
    tip: str = ""
    when: When = When.ALWAYS
    repeats: bool = False

    @property
    def sentence(self) -> str:
        """What it does, and when it is possible."""
        said = self.tip or self.words
        if self.when is When.ALWAYS:
            return said
        return _("{what} – when {state}", what=said, state=self.when.value)

    @property
    def key(self) -> str:
        """Its first key, as printed on the keyboard."""
        return printed(self.keys[0])


def _on(*pages: str, when: When = When.ALWAYS) -> _ActionFactory:
    return _ActionFactory(pages, when)


@dataclass(frozen=True)
class _ActionFactory:
    """Makes the actions of some pages; their words and tips are written in English here."""

    pages: tuple[str, ...]
    when: When

    def __call__(
        self,
        name: str,
        words: str,
        *keys: str,
        tip: str = "",
        when: When | None = None,
        repeats: bool = False,
    ) -> Action:
        return Action(name, _(words), keys, self.pages, tip and _(tip), when or self.when, repeats)


_any = _on(*PAGES)
_open = _on(*PAGES, when=When.ROUTINE)

STOP = Action(
    "stop everything", _("Stop everything: dizzy, cramp or pain"), ("D", "Ctrl+D"), EVERYWHERE
)
HELP = _any("help", "Help for this page", "F1")
WALK = _any("walk", "Walk through the demo, or leave it", "F4")
ABOUT = _any("about", "About Rehearse: version and licences", "Ctrl+Shift+B")
LOG = _any("log", "Show the folder of the program's log", "Ctrl+Shift+L")
KEYS = _any("keys", "All keys", "?")
WALKING = (_any("walk_on", "Next step of the walk", "Shift+F4"),)  #: while the walk goes on
#: The menu's lines, in their order.
MENU = (
    _any("new", "New routine", "Ctrl+N"),
    _any("new rounds", "Comparison rounds without a song", "Ctrl+Shift+N"),
    _any("recent", "Recent routines, with shows and days left", "Ctrl+Shift+H"),
    _any("open", "Open a routine folder", "Ctrl+O"),
    _any("open zip", "Open a zipped routine", "Ctrl+Shift+O"),
    _open("show", "Show and rules", "Ctrl+R"),
    _open("another show", "Use this routine for another show", "Ctrl+Shift+R"),
    _open("take along", "Handouts: sheet, cue track, video, stage music, page, zip", "Ctrl+P"),
    _open("own voice", "Own voice: record names and counts", "Ctrl+Shift+P"),
    _open("film", "Film of a run: early or late at each hit", "Ctrl+F"),
    _any("larger", "Larger text", "Ctrl++", "Ctrl+=", repeats=True),
    _any("smaller", "Smaller text", "Ctrl+-", repeats=True),
    _any("first size", "Text at its first size", "Ctrl+0"),
    WALK,
    HELP,
    ABOUT,
    LOG,
)
WINDOW = (
    *(_open(f"page {k}", PAGE_WORDS[page], str(k)) for k, page in enumerate(PAGES, 1)),
    _any("undo", "Undo", "Ctrl+Z", repeats=True),
    _any("redo", "Redo", "Ctrl+Shift+Z", "Ctrl+Y", repeats=True),
    _any("quit", "Quit", "Ctrl+Q"),
    *MENU,
)

_music = _on(MUSIC, when=When.MAP)
_song = _on(MUSIC)
MUSIC_MAIN = _song("listen", "Play, stop", "Space", tip="Play the song with clicks, or stop")
#: The corrections that are needed most.
COMMON = (
    _music("twice", "Twice the counts", "Q", tip="Twice as many counts"),
    _music("half", "Half the counts", "Shift+Q", tip="Half as many counts"),
    _music("one", "The 1 is here", "O", tip="Make the beat at the cursor the first of its bar"),
    _music("tap", "Tap along", "K", tip="Tap every beat with this key, the first tap on a 1"),
)
COUNTS = (
    _music("eight", "New eight here", "Shift+O", tip="Start an eight at the cursor, or no longer"),
    _music(
        "pin_beat",
        "Pin a beat here",
        "Shift+J",
        tip="There is a beat at the cursor: find the rest around it",
    ),
    _song(
        "find_beats",
        "Find beats again",
        "Shift+M",
        tip="Find the beats of the selected part of the song again, without one of the whole song",
    ),
    _music(
        "reading",
        "Next reading",
        "Shift+Y",
        tip="Count the song in the next-best way, and hear it",
    ),
    _music(
        "four",
        "Tap four counts",
        "Shift+K",
        tip="Tap four counts you hear, the first on a 1: the song is counted like that to its end",
    ),
    _music("doubt", "Next unsure spot", "U", tip="Select the next place whose beats are unsure"),
)
#: Pairs that move the counts: by what, earlier, later.
SHIFTS = (
    (
        "5 ms",
        _music("earlier_5ms", "Counts 5 ms earlier", "Alt+Left", repeats=True),
        _music("later_5ms", "Counts 5 ms later", "Alt+Right", repeats=True),
    ),
    (
        "½ count",
        _music("earlier_half", "Counts half a count earlier", "Ctrl+Left", repeats=True),
        _music("later_half", "Counts half a count later", "Ctrl+Right", repeats=True),
    ),
    (
        "1 count",
        _music("earlier_one", "Counts one count earlier", "Ctrl+Shift+Left", repeats=True),
        _music("later_one", "Counts one count later", "Ctrl+Shift+Right", repeats=True),
    ),
)
#: From accent to accent.
ACCENTS = (
    _music("accent_before", "Accent before", "Ctrl+Up", repeats=True),
    _music(
        "accent_after",
        "Next accent",
        "Ctrl+Down",
        tip="Cursor to the next accent shown",
        repeats=True,
    ),
)
MARKS = (
    _music("add_accent", "Accent here", "Ctrl+Shift+A", tip="Add an accent at the cursor"),
    _music(
        "delete_accent", "Delete accent", "Del", "Backspace", tip="Delete the accent at the cursor"
    ),
    _music(
        "free",
        "Free time",
        "Shift+F",
        tip="Make the selected part of the song free time, or count it again",
    ),
)
STAGE = (
    _song("stage_start", "Stage start", "Shift+S", tip="The stage music starts at the cursor"),
    _song("stage_end", "Stage end", "Shift+E", tip="The stage music ends at the cursor"),
    _song("whole", "Whole song", "W", tip="Use the whole song on stage"),
)
CUT_SONG = _music("cut", "Cut the song", "Ctrl+X", tip="Make the stage music of parts of the song")
SONG = _song("song", "Another song", "Ctrl+G", tip="Choose another song for this routine")
CLICKS = _song("clicks", "Clicks", "Ctrl+K", tip="Hear a click on every count")
MORE = _song(
    "more", "More corrections", "Ctrl+Shift+C", tip="Show the other corrections, each with its key"
)
BAR = _music("bar", "Counts in a bar", "Ctrl+B", tip="Choose how many counts a bar has")
LISTS = (
    _music("read", "Import beats", "Ctrl+I", tip="Import the beats from a plain list"),
    _music("write", "Export beats", "Ctrl+E", tip="Write the beats to a plain list"),
)
#: What the waveform does with the keys while it has them.
WAVE = (
    _song("beat_before", "Beat before", "Left", repeats=True),
    _song("beat_after", "Beat after", "Right", repeats=True),
    _song("bar_before", "Bar before", "Up", repeats=True),
    _song("bar_after", "Bar after", "Down", repeats=True),
    _song("select_before", "Select to the beat before", "Shift+Left", repeats=True),
    _song("select_after", "Select to the beat after", "Shift+Right", repeats=True),
    _song("select_bar_before", "Select to the bar before", "Shift+Up", repeats=True),
    _song("select_bar_after", "Select to the bar after", "Shift+Down", repeats=True),
    _song("song_start", "Start of the song", "Home"),
    _song("song_end", "End of the song", "End"),
    _song("select_start", "Select to the start", "Shift+Home"),
    _song("select_end", "Select to the end", "Shift+End"),
    _song("zoom_in", "Zoom in", "+", "=", repeats=True),
    _song("zoom_out", "Zoom out", "-", repeats=True),
    _song("fit", "Fit the whole song in", "0"),
    _song("scroll_back", "Scroll back", "PgUp", repeats=True),
    _song("scroll_on", "Scroll on", "PgDown", repeats=True),
)
#: While taps are collected.
TAPS = (
    _song("take_taps", "Use the taps", "Return", "Enter"),
    _song("drop_taps", "Drop the taps, clear the selection", "Esc"),
)
ON_MUSIC = (
    *(MUSIC_MAIN, *COMMON, *COUNTS, *(a for _, *pair in SHIFTS for a in pair)),
    *(*ACCENTS, *MARKS, *STAGE, CUT_SONG, SONG, CLICKS, MORE, BAR, *LISTS, *WAVE, *TAPS),
)

#: Those that the page binds itself; the waveform hears its own.
ON_MUSIC_PAGE = tuple(action for action in ON_MUSIC if action not in WAVE)

#: The view from the mirror: of the routine, and of a film.
MIRROR = _on(ROUTINE, FILM)("mirror", "Mirror view", "Ctrl+Shift+M")

_routine = _on(ROUTINE)
_pose = _on(ROUTINE, when=When.CHOSEN)
ON_ROUTINE = (
    _routine("play", "Play from the cursor, stop", "Space"),
    _routine("put", "Add a pose at the cursor", "P"),
    _routine("beat", "Add the current pose on this beat", "B", when=When.MAP),
    _routine("accent", "Add the current pose on the next accent", "A", when=When.MAP),
    _routine("put_move", "Add a move at the cursor, or before the chosen pose", ","),
    _routine("begin_move", "Start the current move on this beat", "Shift+B"),
    _routine("again", "Hit the held pose again here, or no longer", "."),
    _routine("move_before", "Move before", "Alt+Up", repeats=True),
    _routine("move_after", "Move after", "Alt+Down", repeats=True),
    _pose("accents", "All chosen poses on their nearest accents", "Shift+A"),
    _routine("insert", "Insert a pose, what follows moves on up to the next pin", "I"),
    _pose("exchange", "Show another pose here", "Return", "Enter"),
    _routine("hand", "Choose the current pose", "J"),
    _pose("earlier", "Hit earlier", "Left", repeats=True),
    _pose("later", "Hit later", "Right", repeats=True),
    _pose("eight_earlier", "Chosen poses an eight earlier", "Shift+Left", repeats=True),
    _pose("eight_later", "Chosen poses an eight later", "Shift+Right", repeats=True),
    _routine("home", "Cursor to the start", "Home"),
    _routine("end", "Cursor to the end", "End"),
    _routine("previous", "Pose before", "Up", repeats=True),
    _routine("next_pose", "Pose after", "Down", repeats=True),
    _routine("more_previous", "Choose the one before too", "Shift+Up", repeats=True),
    _routine("more_next", "Choose the one after too", "Shift+Down", repeats=True),
    _routine("all", "Choose all poses", "Ctrl+A"),
    _pose("hold_longer", "Hold longer", "H", repeats=True),
    _pose("hold_shorter", "Hold shorter", "Shift+H", repeats=True),
    _pose("way_longer", "Transition longer", "T", repeats=True),
    _pose("way_shorter", "Transition shorter", "Shift+T", repeats=True),
    _pose("swap", "Swap what is chosen with the next pose", "Shift+X"),
    _pose("duplicate", "Duplicate", "Y"),
    _pose("copy_up", "Copy what is chosen", "Ctrl+C"),
    _routine("paste", "Paste it, the first hit at the cursor", "Ctrl+V"),
    _routine("paste_mirrored", "Paste it mirrored", "Ctrl+Shift+V"),
    _pose("stretch", "Dance the chosen poses in other counts", "Ctrl+T"),
    _pose("take_out", "Delete", "Del", "Backspace"),
    _pose(
        "close_up",
        "Delete, what follows moves up to the next pin",
        "Shift+Del",
        "Shift+Backspace",
    ),
    _routine("other_way", "The other way: move all, or only up to the next pin", "Shift+I"),
    _pose("pin", "Pin it to its place, or no longer", "Shift+P"),
    _pose("facing", "Quarter turn to the right; a move: its other side", "R"),
    _pose("turn_way", "Turn into it to the left, to the right, the shorter way", "Shift+R"),
    _pose("place", "Where on the stage: centre, left, right, front, back …", "Shift+W"),
    _pose("level", "Standing, lunge, kneeling", "L"),
    _pose("note", "Write a note", "N"),
    _pose("section", "Make a section of what is chosen", "E"),
    _routine("grid", "Snap to counts, half counts, accents …", "G"),
    _routine("closer", "See less of the music, closer", "Z", repeats=True),
    _routine("wider", "See more of the music", "Shift+Z", repeats=True),
    MIRROR,
    _routine("checks", "Checks", "Shift+C"),
    _routine("suggestions", "Suggestions", "Shift+G"),
    _routine("take_all", "Apply all suggestions", "Ctrl+Return", "Ctrl+Enter"),
    _routine("versions", "Versions", "V"),
    _routine("keep", "Save version", "Ctrl+S", tip="Save this state as a version with a name"),
    _routine("copy", "Compare with a copy from the coach", "Shift+V"),
    _routine("remarks", "Remarks from the coach", "Ctrl+M"),
    _routine("leave", "Clear selection", "Esc"),
)

#: The stage display, or a film, on the whole screen.
FULL = _on(REHEARSE, FILM)("full", "Full screen", "F", "F11")
_rehearse = _on(REHEARSE)
_running = _on(REHEARSE, when=When.RUNNING)
_both = _on(ROUTINE, REHEARSE, FILM)
TEMPO = (
    _both("slower", "Slower by 5 %", "-", repeats=True),
    _both("faster", "Faster by 5 %", "+", "=", repeats=True),
)
CLICKER = (
    _rehearse("clicker_on", "Clicker forward", "PgDown"),
    _rehearse("clicker_back", "Clicker back", "PgUp"),
)
#: On the Logbook page it calls the round of today's plan.
ROUNDS = _on(REHEARSE, LOGBOOK)("rounds", "Comparison rounds, or the routine", "5")
ON_REHEARSE = (
    _rehearse("begin", "Start, pause, resume", "Space"),
    _running("stop", "Stop", "S"),
    _running("clean", "Clean", "C"),
    _running("missed", "Missed", "X"),
    _rehearse("next", "Next section", "Right", repeats=True),
    _rehearse("back", "Section before", "Left", repeats=True),
    *TEMPO,
    _rehearse(
        "mark", "Mark here; the second mark drills what lies between", "M", when=When.PLAYING
    ),
    _rehearse("silent", "Continue in silence when the speaker is lost", "Shift+N"),
    FULL,
    ROUNDS,
    _rehearse("camera", "Camera", "6", tip="Film runs with this computer's camera, or no longer"),
    _rehearse("late_mirror", "Late mirror", "7", tip="Show what was done some counts ago"),
    _rehearse("mirror_later", "How late the mirror is", "8"),
    _rehearse("setup", "Set up", "Shift+U", tip="Set up screen, sound and keys"),
    *CLICKER,
)
#: Esc leaves whatever stands in front of the stage; nothing else may have it.
LEAVE_FRONT = _rehearse("leave_front", "Leave the full screen, close the set-up", "Esc")

_logbook = _on(LOGBOOK)
_plan = _on(LOGBOOK, when=When.PLAN)
ON_LOGBOOK = (
    _plan("start_plan", "Start or resume today's plan", "Space"),
    _plan("skip", "Skip", "Del", "Backspace", tip="Skip this line of the plan, or put it back"),
    _plan("line_up", "Line of the plan up", "Shift+Up", repeats=True),
    _plan("line_down", "Line of the plan down", "Shift+Down", repeats=True),
    _logbook("fewer_minutes", "Fewer minutes for today", "-", repeats=True),
    _logbook("more_minutes", "More minutes for today", "+", "=", repeats=True),
    _logbook("next_table", "Next list: sections, transitions, poses, rounds", "Shift+L"),
    ROUNDS,
    _logbook("sources", "What each reason rests on", "Ctrl+U"),
    _logbook("save_table", "Save table", "Ctrl+Shift+T", tip="Save every pass as a CSV table"),
    _logbook("save_picture", "Save picture", "Ctrl+Shift+I", tip="Save a picture of the logbook"),
)
_film = _on(FILM)
ON_FILM = (
    _film("film_play", "Play, stop", "Space", tip="Play the film with the music, or stop"),
    _film("film_back", "Picture before", "Left", repeats=True),
    _film("film_on", "Picture after", "Right", repeats=True),
    _film("film_count_back", "Count before", "Up", repeats=True),
    _film("film_count_on", "Count after", "Down", repeats=True),
    _film("film_hit_back", "Hit before", "PgUp", repeats=True),
    _film("film_hit_on", "Hit after", "PgDown", repeats=True),
    _film("take_before", "Take before", "Ctrl+PgUp"),
    _film("take_after", "Take after", "Ctrl+PgDown"),
    _film("film_delete", "Delete the film kept of this take", "Del"),
    _film("film_loop", "Loop the way in", "Ctrl+W", tip="Loop the way into this pose, or no more"),
    _film(
        *("film_guide", _("Film a run"), "Ctrl+Shift+F"),
        tip=_("How to film; Space there plays the run to be filmed"),
    ),
    _film(
        *("film_clap", "The hands meet here", "Ctrl+Shift+X"),
        tip="You clap once, and the hands meet in this picture: the phone's lag is taken out",
    ),
    _film(
        *("film_beside", "Two takes", "Ctrl+Shift+J"),
        tip="Two takes beside each other, one over the other, or one alone",
    ),
    _film("film_choose", "Another film", "Ctrl+H", tip="Choose a film of a run"),
    FULL,
    MIRROR,
    *TEMPO,
)
#: On the list of all keys.
KEY_LIST = "All keys"
ON_KEYS = (
    _on(KEY_LIST)(
        "key sheet", "Key sheet to print", "Ctrl+Shift+K", tip="Save all keys as a PDF to print"
    ),
)
ON_START = (_on(START)("start_new", "New routine", "Space"),)
ON_OWN_VOICE = (
    _on(OWN_VOICE)("play_recording", "Listen", "Ctrl+L", tip="Listen to the recording"),
    _on(OWN_VOICE)("delete_recording", "Delete", "Del", tip="Delete the recording"),
)
_cut = _on(CUT)
ON_CUT = (
    _cut("play_cut", "Play the cut, stop", "Space"),
    _cut("add_part", "Part here", "Ctrl+J", tip="Add the selection, or the song's part here"),
    _cut("add_song", "Add a song …", "Ins", tip="Add another song and choose parts of both"),
    _cut("part_start", "Part start", "Ctrl+Home", tip="The part at the cursor starts here"),
    _cut("join_earlier", "Join earlier", "Ctrl+Left", tip="Move the join a count earlier"),
    _cut("whole_song", "Use the whole song", "Ctrl+Shift+W", tip="Give the cut up"),
    _cut("next_join", "Next join", "PgDown", tip="Play the next join, two counts on either side"),
    _cut("delete_part", "Delete part", "Del", "Backspace", tip="Delete the part at the cursor"),
    _cut("part_end", "Part end", "Ctrl+End", tip="The part at the cursor ends here"),
    _cut("join_later", "Join later", "Ctrl+Right", tip="Move the join a count later"),
)

#: Every action there is.
ALL: tuple[Action, ...] = (
    *(STOP, KEYS, *WINDOW, *WALKING, *ON_KEYS, *ON_START, *ON_MUSIC, *ON_ROUTINE),
    *(*ON_REHEARSE, LEAVE_FRONT, *(a for a in ON_LOGBOOK if a is not ROUNDS), *ON_OWN_VOICE),
    *ON_CUT,
    *(a for a in ON_FILM if a not in (FULL, MIRROR, *TEMPO)),
)
_NAMED = {action.name: action for action in ALL}
#: The keys of the Rehearse page can be others on this machine.
ASSIGNABLE = ON_REHEARSE
#: No page and no clicker may have one of these.
RESERVED = frozenset(key for action in (STOP, KEYS, *WINDOW, *WALKING) for key in action.keys)

_PRINTED = {"Left": "←", "Right": "→", "Up": "↑", "Down": "↓", "-": "−"}
_PRINTED |= {"Return": "Enter", "PgUp": "Page Up", "PgDown": "Page Down"}


def printed(key: str) -> str:
    """A key as it stands on the keyboard: "Shift+Left" is "Shift+←"."""
    parts = key.split("+") if len(key) > 1 else [key]
    return "+".join(shown(_PRINTED.get(part, part)) for part in parts)


def named(name: str) -> Action:
    """The action of a name."""
    return _NAMED[name]


def key(name: str) -> str:
    """The first key of an action, as printed; for sentences that name a key."""
    return _NAMED[name].key


def on_page(page: str) -> tuple[Action, ...]:
    """What can be done on a page, without what works on every page."""
    everywhere = {action.name for action in (STOP, KEYS, *WINDOW, *WALKING)}
    return tuple(a for a in ALL if page in a.pages and a.name not in everywhere)


def is_letter(key: str) -> bool:
    """Whether a key is a letter or a sign, which has one meaning, with whatever is held beside."""
    last = key if len(key) == 1 else key.split("+")[-1]
    return len(last) == 1 and last not in "-+="
