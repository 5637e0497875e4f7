"""The command line: one file per command. Heavy packages are imported inside functions, so that help stays quick."""
