"""Only to be there: the board of the tests is made of the bench."""
