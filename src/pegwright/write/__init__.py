"""Writers: one output format a module."""
