"""studies"""
