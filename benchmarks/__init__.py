"""Ratios against a reference, measured in the same run: `python -m benchmarks [NAME...]`.

Each module `NAME_bench.py` has `run() -> list[Measure]`, and may have `EXPLAINED`, a dict from a
measure's name to the reason why its goal is not met.
"""
