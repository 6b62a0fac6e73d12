"""How fast, how long and how often: limits that every file, option and page shares.

Conventions: tempo in beats a minute (the meter's beat). Common practice, no source: what lies
outside cannot be played, or is a wrong file.
"""

SLOWEST_BPM, FASTEST_BPM = 20.0, 400.0
# Far beyond any tune that is played; more would only take long.
MOST_BARS = 2000
MOST_CHORUSES = 100
