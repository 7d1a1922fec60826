"""The command line, one module for each command: parse, call the pipeline, render."""
