"""The work of each side, how it was done, and whether blocks of it helped."""
