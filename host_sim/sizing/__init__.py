"""Will this sensor do for this aeroplane? One question a module; the verb is `host_sim/size.py`."""
