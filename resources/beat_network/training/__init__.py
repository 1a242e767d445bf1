"""How the beat network was made: scores, a composing generator, rendering, and training.

Nothing here runs in the program. The only data are notes that the generator writes itself and
scores in the public domain from music21's corpus; the sounds come from freely licensed sound
fonts and a synthesizer of our own. To make the network again (`pip install .[training]`):

    python -m training.scores scores.npz
    python -m training.train --scores scores.npz --fonts a.sf3 b.sf2 \
        --out weights.npz
    python -m training.bar_fit --scores scores.npz --fonts a.sf3 b.sf2 \
        --held-fonts c.sf3 --out bars.tsv

The last learns where bars begin and needs the weights in place. What was used, how long it took and
which figures came of it: `resources/beat_network/card.md`. All is seeded, and the scores and the
made music come out the same each time; sums on an accelerator may run in another order, so weights
trained again differ, and figures by about a hundredth.
"""
