"""The teacher's desk: the whole job in the browser, on the user's own machine.

    browser ⇄ wire (deadlines, sizes) ⇄ guard (who may ask) ⇄ routes ⇄ shelf, saving, making
                                                                 └──► processes: workers

Conventions: the event loop never plans, engraves or renders sound; all code that knows music runs
in worker processes. A tune is named as on the shelf, never by a path. Texts from the browser are
data.
"""
