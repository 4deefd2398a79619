"""Papers, pictures and remarks that belong to a machine, box, sample or sheet."""
