"""`alula board`: a unit on a USB cable. One idea a file; mpremote speaks the raw REPL."""
