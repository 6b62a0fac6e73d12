"""The two bridges from strokes: notate (paper) and perform (sound)."""
