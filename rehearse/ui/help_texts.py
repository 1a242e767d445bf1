"""What F1 says, page by page: written for the athlete, with keys from the table of actions.

A text names an action in braces, and its key of now stands there: "{begin} starts".
"""

from __future__ import annotations

from dataclasses import dataclass

from rehearse.ui.actions import CUT, FILM, LOGBOOK, MUSIC, OWN_VOICE, REHEARSE, ROUTINE, START
from rehearse.words import _


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
    _("Dizzy, in pain?"),
    _(
        "{stop everything} stops everything on every page, and so does the "
        "clicker's back button held for a second. Nothing is counted against "
        "you. Warm up before, breathe through every hold, keep the floor dry. "
        "Medical questions go to a clinician, rules to your federation, "
        "choreography to your coach."
    ),
)

PAGES: dict[str, Topic] = {
    MUSIC: Topic(
        _("The music"),
        (
            (
                _("What you see"),
                _(
                    "The song as a waveform, its counts as lines, the 1 of each eight "
                    "taller, accents as wedges. The program has found them; your ear "
                    "decides."
                ),
            ),
            (
                _("Listen first"),
                _(
                    "{listen} plays the song with a click on every count. Clicks on the "
                    "beat and a 1 where you feel it: nothing to do here, go on with {page "
                    "2}."
                ),
            ),
            (
                _("Wrong counts"),
                _(
                    "{twice} twice as many, {half} half as many, {one} the 1 is at the "
                    "cursor, {tap} tap along. {reading} tries the next-best way to count "
                    "the song, {four} takes four taps of yours. {undo} takes any of it "
                    "back; poses stay at their places in the music."
                ),
            ),
            (
                _("Too long"),
                _(
                    "{stage_start} and {stage_end} set where the stage music starts and "
                    "ends. {cut} makes a shorter version of parts of the song, joined on "
                    "counts."
                ),
            ),
        ),
        MUSIC,
    ),
    ROUTINE: Topic(
        _("The routine"),
        (
            (
                _("What you see"),
                _(
                    "Your poses over the waveform and as a table: the count each is hit on,"
                    " how long it is held, how long the transition into it is."
                ),
            ),
            (
                _("Put poses in"),
                _(
                    "{put} adds a pose at the cursor, {beat} on the beat while the music "
                    "plays, {accent} on the next accent. {suggestions} shows what the music"
                    " suggests, Enter applies one."
                ),
            ),
            (
                _("Move and change"),
                _(
                    "{earlier} {later} hit it earlier or later, {hold_longer} holds longer,"
                    " {way_longer} gives the transition more counts, {exchange} shows "
                    "another pose, {facing} turns it, {take_out} deletes it. {put_move} "
                    "adds a move between two poses."
                ),
            ),
            (
                _("Several at once"),
                _(
                    "{more_next} and {more_previous} choose more poses: they move together, "
                    "{eight_later} by an eight, {accents} onto their accents. {copy_up} and "
                    "{paste} copy them, {paste_mirrored} mirrored, {stretch} puts them in other "
                    "counts. {pin} pins a pose to its place: {insert} and {close_up} move what "
                    "follows only up to the next pin."
                ),
            ),
            (
                _("Check"),
                _(
                    "{checks} shows what a judge or your body would object to. {show} sets "
                    "show, date and rules. {versions} shows earlier versions; nothing needs"
                    " saving."
                ),
            ),
        ),
        ROUTINE,
    ),
    REHEARSE: Topic(
        "Rehearse",
        (
            (
                _("Begin"),
                _(
                    "Choose a section with {back} {next}, then {begin}. You hear the "
                    "counts, then the music; the large name is the pose that comes next, "
                    "the numeral the counts left to it, and the rim is full of light on the"
                    " hit. {full} fills the screen."
                ),
            ),
            (
                _("Slower, and again"),
                _(
                    "{slower} and {faster} change the tempo at once, the pitch stays. "
                    "{mark} marks a place; pressed again it drills what lies between. Tempo"
                    " steps begin slow and climb after clean passes."
                ),
            ),
            (
                _("Judge"),
                _(
                    "{clean} clean, {missed} missed. After a run-through it asks once where"
                    " you lost it: type the pose's number, or Enter for a clean run."
                ),
            ),
            (
                _("With a clicker"),
                _(
                    "{clicker_on} starts, then says clean; {clicker_back} says missed. "
                    "{setup} gives any action another key."
                ),
            ),
            (
                _("Rounds"),
                _(
                    "{rounds} calls comparison rounds: quarter turns, mandatories, both. {slower} "
                    "and {faster} set the hold. {clicker_on} says clean, {clicker_back} that you "
                    "lost it, there and then."
                ),
            ),
            (
                _("Your camera"),
                _(
                    "{camera} has this computer's camera film run-throughs, and the last pass of "
                    "a drill with an end. Then each hit is shown in turn, early or late; {next} "
                    "{back} go to another, {begin} goes on. Films stay so many days ({setup}); "
                    "nothing is sent. Cameras: tried on none of Linux, Windows and macOS."
                ),
            ),
            (
                _("Late mirror"),
                _(
                    "{late_mirror} shows what the camera saw some counts ago: hit a back pose, "
                    "turn round, see it. {mirror_later} sets how late; nothing of it is kept."
                ),
            ),
            _CAUTION,
        ),
        REHEARSE,
    ),
    LOGBOOK: Topic(
        _("The logbook"),
        (
            (
                _("Today"),
                _(
                    "A plan for the minutes you have, hardest and coldest first, each line "
                    "with its reason. {start_plan} starts it, and it runs by itself on page"
                    " {page 3}. {fewer_minutes} {more_minutes} change the minutes, {skip} "
                    "skips a line."
                ),
            ),
            (
                _("What is warm, what is cold"),
                _(
                    "The ribbon shows each transition: the brighter, the better it was "
                    "lately. {next_table} goes through sections, transitions, poses and "
                    "rounds."
                ),
            ),
            (
                _("Keep it"),
                _(
                    "{save_table} saves every pass as a table, {save_picture} a picture. "
                    "{sources} tells what each reason rests on."
                ),
            ),
            _CAUTION,
        ),
        LOGBOOK,
    ),
    START: Topic(
        _("How to start"),
        (
            (
                _("A song"),
                _("{start_new} or {new} chooses one; or drop it on the window. Any format."),
            ),
            (
                _("Then"),
                _(
                    "Its counts are found and the routine is made. Enter puts one suggested"
                    " pose after the other on the music."
                ),
            ),
            (
                _("What you have"),
                _(
                    "{open} opens a routine folder, {open zip} a zip, {new rounds} begins "
                    "comparison rounds without a song. {walk} shows it all on a demo."
                ),
            ),
        ),
        START,
    ),
}

#: Of what fills the window in place of a page, by the name of its class.
FLOWS: dict[str, Topic] = {
    "NewRoutine": Topic(
        _("A new routine"),
        (
            (_("The song"), _("Any song file; the routine gets a copy, yours is not touched.")),
            (
                _("The rules"),
                _(
                    "They set the limit; the song is used from its start to there until you"
                    " choose another part. Check your show's own sheet."
                ),
            ),
            (
                _("Make it"),
                _("Enter, once the counts are found. Esc goes back and leaves nothing."),
            ),
        ),
    ),
    "NewRounds": Topic(
        _("Comparison rounds"),
        (
            (
                _("Without a song"),
                _(
                    "Quarter turns and mandatory poses are called from your show's rules "
                    "and your division. A song chosen later on the Music page makes it a "
                    "routine."
                ),
            ),
        ),
    ),
    "AnotherShow": Topic(
        _("Another show"),
        (
            (
                _("A copy"),
                _(
                    "The open routine is copied with all that was practised, for another "
                    "show, date and rules. The old one stays as it is; {recent} lists them "
                    "all."
                ),
            ),
        ),
    ),
    "ShowAndRules": Topic(
        _("Show and rules"),
        (
            (
                _("What it changes"),
                _(
                    "The rules set the limit, the mandatory poses and what is checked. The "
                    "date tells the plan how many days are left. Figure and dress change "
                    "the pictures only."
                ),
            ),
            (_("Your show's own sheet"), _("counts more than any rule set here. Check it.")),
        ),
    ),
    "StartPage": Topic(
        _("Recent routines"),
        ((_("Open one"), _("Choose with the arrows, Enter opens it, Esc goes back.")),),
    ),
    "CutSong": Topic(
        _("Cut the song"),
        (
            (
                _("Versions"),
                _(
                    "Three within your limit, each with a beginning, a build with its hit "
                    "and a strong end, joined on counts. The arrows choose, {play_cut} "
                    "plays, {next_join} plays the next join, Enter uses it."
                ),
            ),
            (
                _("By hand"),
                _(
                    "{add_part} adds the part at the cursor, {part_start} and {part_end} "
                    "set its ends, {join_earlier} {join_later} move the join by a count, "
                    "{delete_part} deletes it."
                ),
            ),
            (
                _("Several songs"),
                _(
                    "{add_song}, or a song dropped here, is laid behind the first; then "
                    "parts of both can be chosen. It is brought to the same level."
                ),
            ),
            (
                _("Your poses"),
                _(
                    "stay with their music. Those whose music is gone are set aside and "
                    "come back with it. {whole_song} gives the cut up."
                ),
            ),
        ),
        CUT,
    ),
    "HandoutFlow": Topic(
        _("Handouts"),
        (
            (
                _("What you can take along"),
                _(
                    "A sheet to print, a cue track for the phone, a cue video, the stage "
                    "music file, a page for the coach, a zip of it all."
                ),
            ),
            (
                _("Make it"),
                _(
                    "Choose the kind on the left and its choices in the middle; Enter makes"
                    " it and says where it is."
                ),
            ),
            (
                _("For the show"),
                _(
                    "The stage music has the checklist beside it: length, loudness, name of"
                    " the file. Take it on two sticks."
                ),
            ),
        ),
    ),
    "OwnVoice": Topic(
        _("Own voice"),
        (
            (
                _("Record"),
                _(
                    "Choose a name or a count and record it; it is said instead of the "
                    "program's voice. {play_recording} listens, {delete_recording} deletes."
                ),
            ),
        ),
        OWN_VOICE,
    ),
    "FilmFlow": Topic(
        _("Film of a run"),
        (
            (
                _("Film it"),
                _(
                    "Whole body in the picture, phone still, light from the front, the "
                    "music loud enough for the phone to hear. {film_guide} shows how; Space "
                    "there plays the run: ten seconds to walk to your place, a clap, the "
                    "count-in. Then drop the film on the window."
                ),
            ),
            (
                _("Read it"),
                _(
                    "Each pose says whether it was early or late and how sure that is. "
                    "{film_hit_back} {film_hit_on} go from hit to hit, {film_back} "
                    "{film_on} from picture to picture, {film_loop} loops the way in. "
                    "{film_beside} shows the take before beside it, Enter the contact sheet "
                    "for the coach."
                ),
            ),
            (
                _("Late picture"),
                _(
                    "Some phones' pictures lag behind their sound. Clap once in the film, go to "
                    "the picture in which the hands meet, {film_clap}: the lag is taken out."
                ),
            ),
            (
                _("Trust your eye first"),
                _(
                    "It was tried on rendered films, on none of a person. A slow arrival "
                    "gets no number, nothing gets a score, and no film leaves this machine."
                ),
            ),
        ),
        FILM,
    ),
    "KeyHelp": Topic(
        _("All keys"),
        (
            (
                _("This list"),
                _(
                    "shows what works on the page you came from and what works everywhere. "
                    "On the Rehearse page {setup} gives an action another key. {key sheet} "
                    "makes a sheet of all keys to print."
                ),
            ),
        ),
    ),
    "About": Topic(
        _("About"), ((_("Free software"), _("Use it, copy it, change it; the licences say how.")),)
    ),
}
