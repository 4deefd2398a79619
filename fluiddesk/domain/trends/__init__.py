"""One analyte of one compartment over hours of use.

Series cut at fluid changes and corrected for top-ups, robust slopes, steps, and forecasts given
as a range or as "not foreseeable".
"""
