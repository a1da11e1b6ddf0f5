"""The guided stall capture: a run is flown, watched, judged and entered in a book.

    track (points of a run) -> watch (where n/q peaks) -> judge (a stall? where? the curve)
    -> book (do enough runs agree?);   capture: the table of states and what the pilot hears
"""
