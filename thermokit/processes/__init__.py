"""processes"""
