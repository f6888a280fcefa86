"""conduction"""
