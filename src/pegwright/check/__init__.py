"""The independent verifier: every rule computed again from score, wheel and placement."""
