"""What a person holds in a notebook or a program: a player, a tune's positions, a piece.

A piece is arranged, performed, written down and sounded; values have pictures, and bridges lead to
other libraries.
"""
