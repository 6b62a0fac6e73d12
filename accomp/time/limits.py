"""How fast, how long and how often: limits that every file, option and page shares.

Conventions: tempo in beats a minute (the meter's beat). Common practice, no source: what lies
outside cannot be played, or is a wrong file.
"""

from accomp.files import values

SLOWEST_BPM, FASTEST_BPM = 20.0, 400.0
# Where nobody says one; a MIDI file without a tempo has it, too (Standard MIDI Files 1.0).
USUAL_BPM = 120.0
# A tempo in a file.
TEMPO = values.number(SLOWEST_BPM, FASTEST_BPM, unit=" of beats a minute", example=f"{USUAL_BPM:g}")
# Far beyond any tune that is played; more would only take long.
MOST_BARS = 2000
MOST_CHORUSES = 100
# A whole performance: as many bars as the longest tune twice, and an evening. A few lines of a file
# could ask for days of sound otherwise, which would fill a disk.
MOST_PLAYED = 2 * MOST_BARS
MOST_MINUTES = 150
