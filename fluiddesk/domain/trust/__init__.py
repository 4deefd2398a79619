"""May this sample be believed?

Identity of the bottle, faults of sampling, slips of keying and shifts of the laboratory are
examined before the machine is accused. Trust is separate from severity.
"""
