"""The command line, one file a command: the only room that prints or exits."""
