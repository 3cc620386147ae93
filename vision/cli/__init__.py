"""One command a file: parse, call, print, exit code."""
