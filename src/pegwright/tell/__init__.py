"""Reasons and findings in words."""
