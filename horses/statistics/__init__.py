"""Small-sample statistics of soreness over time: numbers in, numbers out, no records.

Two things are asked here, and neither answer is a cause: how soreness stood before and after a
change, and how it went under one tree beside the others. Every answer carries its counts.
"""
