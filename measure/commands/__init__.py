"""The commands of the command line, one module each, imported only when run."""
