"""Which codes belong together, and how sure can we be?"""
