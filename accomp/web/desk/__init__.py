"""The teacher's desk: the whole job in the browser, on the user's own machine.

    browser ⇄ wire (deadlines, sizes) ⇄ guard (who may ask) ⇄ routes ⇄ shelf, saving, making
                                                                 └──► crew: worker processes

Conventions: the event loop never plans, engraves or sounds; whatever knows music runs in the crew.
A tune is asked for by its name on the shelf, never by a path. Texts from the browser are data.
"""
