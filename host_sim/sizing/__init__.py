"""Will this sensor do for this aeroplane? One question a module; the verb is `size`."""
