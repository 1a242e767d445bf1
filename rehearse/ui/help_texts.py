"""What F1 says, page by page: written for the athlete, with keys from the table of actions.

A text names an action in braces, and its key of now stands there: "{begin} starts".
"""

from __future__ import annotations

from dataclasses import dataclass

from rehearse.ui.actions import CUT, FILM, LOGBOOK, MUSIC, OWN_VOICE, REHEARSE, ROUTINE, START


@dataclass(frozen=True)
class Topic:
    """The help of one page or form.

    Args:
        title: its heading. parts: a few words and what they stand for, in the order of the work.
        keys: the page of the table whose keys are listed beside it; empty: none.
    """

    title: str
    parts: tuple[tuple[str, str], ...]
    keys: str = ""


_CAUTION = (
    "Dizzy, in pain?",
    "{stop everything} stops everything on every page, and so does the clicker's back button held "
    "for a second. Nothing is counted against you. Warm up before, breathe through every hold, "
    "keep the floor dry. Medical questions go to a clinician, rules to your federation, "
    "choreography to your coach.",
)

PAGES: dict[str, Topic] = {
    MUSIC: Topic(
        "The music",
        (
            (
                "What you see",
                "The song as a waveform, its counts as lines, the 1 of each eight taller, accents "
                "as wedges. The program has found them; your ear decides.",
            ),
            (
                "Listen first",
                "{listen} plays the song with a click on every count. Clicks on the beat and a 1 "
                "where you feel it: nothing to do here, go on with {page 2}.",
            ),
            (
                "Wrong counts",
                "{twice} twice as many, {half} half as many, {one} the 1 is at the cursor, {tap} "
                "tap along. {reading} tries the next-best way to count the song, {four} takes four "
                "taps of yours. {undo} takes any of it back; poses stay at their places in the "
                "music.",
            ),
            (
                "Too long",
                "{stage_start} and {stage_end} set where the stage music starts and ends. {cut} "
                "makes a shorter version of parts of the song, joined on counts.",
            ),
        ),
        MUSIC,
    ),
    ROUTINE: Topic(
        "The routine",
        (
            (
                "What you see",
                "Your poses over the waveform and as a table: the count each is hit on, how long "
                "it is held, how long the transition into it is.",
            ),
            (
                "Put poses in",
                "{put} adds a pose at the cursor, {beat} on the beat while the music plays, "
                "{accent} on the next accent. {suggestions} shows what the music suggests, Enter "
                "applies one.",
            ),
            (
                "Move and change",
                "{earlier} {later} hit it earlier or later, {hold_longer} holds longer, "
                "{way_longer} gives the transition more counts, {exchange} shows another pose, "
                "{facing} turns it, {take_out} deletes it. {put_move} adds a move between two "
                "poses.",
            ),
            (
                "Check",
                "{checks} shows what a judge or your body would object to. {show} sets show, date "
                "and rules. {versions} shows earlier versions; nothing needs saving.",
            ),
        ),
        ROUTINE,
    ),
    REHEARSE: Topic(
        "Rehearse",
        (
            (
                "Begin",
                "Choose a section with {back} {next}, then {begin}. You hear the counts, then the "
                "music; the large name is the pose that comes next, the numeral the counts left "
                "to it, and the rim is full of light on the hit. {full} fills the screen.",
            ),
            (
                "Slower, and again",
                "{slower} and {faster} change the tempo at once, the pitch stays. {mark} marks a "
                "place; pressed again it drills what lies between. Tempo steps begin slow and "
                "climb after clean passes.",
            ),
            (
                "Judge",
                "{clean} clean, {missed} missed. After a run-through it asks once where you lost "
                "it: type the pose's number, or Enter for a clean run.",
            ),
            (
                "With a clicker",
                "{clicker_on} starts, then says clean; {clicker_back} says missed. {setup} gives "
                "any action another key.",
            ),
            ("Rounds", "{rounds} calls comparison rounds: quarter turns, mandatories, both."),
            _CAUTION,
        ),
        REHEARSE,
    ),
    LOGBOOK: Topic(
        "The logbook",
        (
            (
                "Today",
                "A plan for the minutes you have, hardest and coldest first, each line with its "
                "reason. {start_plan} starts it, and it runs by itself on page {page 3}. "
                "{fewer_minutes} {more_minutes} change the minutes, {skip} skips a line.",
            ),
            (
                "What is warm, what is cold",
                "The ribbon shows each transition: the brighter, the better it was lately. "
                "{next_table} goes through sections, transitions, poses and rounds.",
            ),
            (
                "Keep it",
                "{save_table} saves every pass as a table, {save_picture} a picture. {sources} "
                "tells what each reason rests on.",
            ),
            _CAUTION,
        ),
        LOGBOOK,
    ),
    START: Topic(
        "How to start",
        (
            ("A song", "{start_new} or {new} chooses one; or drop it on the window. Any format."),
            (
                "Then",
                "Its counts are found and the routine is made. Enter puts one suggested pose after "
                "the other on the music.",
            ),
            (
                "What you have",
                "{open} opens a routine folder, {open zip} a zip, {new rounds} begins comparison "
                "rounds without a song. {walk} shows it all on a demo.",
            ),
        ),
        START,
    ),
}

#: Of what fills the window in place of a page, by the name of its class.
FLOWS: dict[str, Topic] = {
    "NewRoutine": Topic(
        "A new routine",
        (
            ("The song", "Any song file; the routine gets a copy, yours is not touched."),
            (
                "The rules",
                "They set the limit; the song is used from its start to there until you choose "
                "another part. Check your show's own sheet.",
            ),
            ("Make it", "Enter, once the counts are found. Esc goes back and leaves nothing."),
        ),
    ),
    "NewRounds": Topic(
        "Comparison rounds",
        (
            (
                "Without a song",
                "Quarter turns and mandatory poses are called from your show's rules and your "
                "division. A song chosen later on the Music page makes it a routine.",
            ),
        ),
    ),
    "AnotherShow": Topic(
        "Another show",
        (
            (
                "A copy",
                "The open routine is copied with all that was practised, for another show, date "
                "and rules. The old one stays as it is; {recent} lists them all.",
            ),
        ),
    ),
    "ShowAndRules": Topic(
        "Show and rules",
        (
            (
                "What it changes",
                "The rules set the limit, the mandatory poses and what is checked. The date tells "
                "the plan how many days are left. Figure and dress change the pictures only.",
            ),
            ("Your show's own sheet", "counts more than any rule set here. Check it."),
        ),
    ),
    "StartPage": Topic(
        "Recent routines", (("Open one", "Choose with the arrows, Enter opens it, Esc goes back."),)
    ),
    "CutSong": Topic(
        "Cut the song",
        (
            (
                "Versions",
                "Three within your limit, each with a beginning, a build with its hit and a strong "
                "end, joined on counts. The arrows choose, {play_cut} plays, {next_join} plays the "
                "next join, Enter uses it.",
            ),
            (
                "By hand",
                "{add_part} adds the part at the cursor, {part_start} and {part_end} set its ends, "
                "{join_earlier} {join_later} move the join by a count, {delete_part} deletes it.",
            ),
            (
                "Your poses",
                "stay with their music. Those whose music is gone are set aside and come back with "
                "it. {whole_song} gives the cut up.",
            ),
        ),
        CUT,
    ),
    "HandoutFlow": Topic(
        "Handouts",
        (
            (
                "What you can take along",
                "A sheet to print, a cue track for the phone, a cue video, the stage music file, a "
                "page for the coach, a zip of it all.",
            ),
            (
                "Make it",
                "Choose the kind on the left and its choices in the middle; Enter makes it and "
                "says where it is.",
            ),
            (
                "For the show",
                "The stage music has the checklist beside it: length, loudness, name of the file. "
                "Take it on two sticks.",
            ),
        ),
    ),
    "OwnVoice": Topic(
        "Own voice",
        (
            (
                "Record",
                "Choose a name or a count and record it; it is said instead of the program's "
                "voice. {play_recording} listens, {delete_recording} deletes.",
            ),
        ),
        OWN_VOICE,
    ),
    "FilmFlow": Topic(
        "Film of a run",
        (
            (
                "Film it",
                "Whole body in the picture, phone still, light from the front, the music loud "
                "enough for the phone to hear. Drop the film on the window.",
            ),
            (
                "Read it",
                "Each pose says whether it was early or late and how sure that is. {film_hit_back} "
                "{film_hit_on} go from hit to hit, {film_back} {film_on} from picture to picture, "
                "{film_loop} loops the way in.",
            ),
            (
                "Trust your eye first",
                "It was tried on rendered films, on none of a person. A slow arrival gets no "
                "number, nothing gets a score, and no film leaves this machine.",
            ),
        ),
        FILM,
    ),
    "KeyHelp": Topic(
        "All keys",
        (
            (
                "This list",
                "shows what works on the page you came from and what works everywhere. On the "
                "Rehearse page {setup} gives an action another key. {key sheet} makes a sheet of "
                "all keys to print.",
            ),
        ),
    ),
    "About": Topic(
        "About", (("Free software", "Use it, copy it, change it; the licences say how."),)
    ),
}
