"""The register: sites, machines, boxes, meters, fluids, laboratories, test lists and people."""
