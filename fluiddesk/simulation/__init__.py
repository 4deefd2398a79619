"""Plays a fleet whose true condition is known.

Hours, wear, faults, fluids, sampling, laboratory, keying and people, from one seed. The sample
fleet, the benchmarks and every claim about detection use it.
"""
