"""Facts to sentences, in the units shown: numbers, names and codes come in, words go out.

Every room to the left hands on facts; what is read on a screen, on paper or in a file is worded
here and nowhere else.
"""
