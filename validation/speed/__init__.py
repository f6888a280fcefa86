"""Speed and memory of the layered solver beside general-purpose solvers, on the same grid and at the same error."""
