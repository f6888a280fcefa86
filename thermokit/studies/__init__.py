"""Studies: they call the line from case to result, many times, and turn it into a decision."""
