"""Kinetics: how fast a degree of cure, gelation, fusion or heat dose grows, from temperature and state."""
