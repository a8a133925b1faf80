"""Pure functions of numbers and arrays, one phenomenon a file.

Temperatures are °C, everything else SI. Each correlation names its source and its range; outside the
range it still answers, and says so once (see :mod:`thermsim.physics.ranges`).
"""
