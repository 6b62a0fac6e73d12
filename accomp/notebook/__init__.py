"""The library for people who write Python: players, positions, pieces and sound, by name.

Values are shown as pictures in a notebook, and can be turned into objects of other libraries.
"""
