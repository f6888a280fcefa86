"""What a run leaves behind: the result in memory, its HDF5 file, its summary in words, JSON and CSV."""
