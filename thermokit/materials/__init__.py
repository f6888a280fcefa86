"""Materials: conductivity, specific heat, density and transitions against temperature, each with its source."""
