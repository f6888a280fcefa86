"""The checks, one file a family of physics: each names its case file, what is measured and the exact target."""
