"""How much metal a box makes and how much gets in, from what the oil shows.

The mass balance through top-ups, residue and filters; where a level comes to rest; wear in grams
over the life of a component; the base-number clock; dust and coolant. One method a module.
"""
