"""thermokit: thermal modelling of moulds and ovens, from a case file to times and temperatures with their margins."""
