"""TOML files as checked values: every fault at once, each with its key path."""

from pegwright.config.wheel_file import load_wheel, parse_wheel

__all__ = ["load_wheel", "parse_wheel"]
