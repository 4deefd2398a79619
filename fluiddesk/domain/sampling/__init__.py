"""When and how a compartment is sampled.

Methods of drawing, planned and shortened intervals, what is due or late, and whether the
programme keeps its own promises.
"""
