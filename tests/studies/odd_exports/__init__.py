"""Odd exports drawn from one truth: how many does ``map`` read right with its proposals alone?"""
